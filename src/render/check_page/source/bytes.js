// Bytes as text and back, each in its one spelling: a second spelling of the same thing is refused.

const utf8 = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true });
const encoder = new TextEncoder();

/** The text of UTF-8 bytes; null where they are none. */
export function text(bytes) {
  try {
    return utf8.decode(bytes);
  } catch {
    return null;
  }
}

export const encode = (string) => encoder.encode(string);

export const hex = (bytes) => Array.from(bytes, (b) => b.toString(16).padStart(2, '0')).join('');

/** Exactly 64 lower-case hex digits; otherwise null. */
export function unhex32(string) {
  if (typeof string !== 'string' || !/^[0-9a-f]{64}$/.test(string)) return null;
  return Uint8Array.from({ length: 32 }, (_, i) => parseInt(string.slice(2 * i, 2 * i + 2), 16));
}

/** Standard base64 with padding and no unused bits; otherwise null. */
export function unbase64(string) {
  if (!/^[A-Za-z0-9+/]*={0,2}$/.test(string) || string.length % 4 !== 0) return null;
  let binary;
  try {
    binary = atob(string);
  } catch {
    return null;
  }
  // `atob` steps over unused bits that are not zero: those would be a second spelling.
  if (btoa(binary) !== string) return null;
  return Uint8Array.from(binary, (c) => c.charCodeAt(0));
}

export const base64 = (bytes) => btoa(String.fromCharCode(...bytes));

export const same = (a, b) => a.length === b.length && a.every((byte, i) => byte === b[i]);

export function concat(...parts) {
  const all = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    all.set(part, at);
    at += part.length;
  }
  return all;
}

/** A number in its one spelling, up to the largest signed 64-bit one; otherwise null. */
export function number63(string) {
  if (!/^(0|[1-9][0-9]{0,18})$/.test(string)) return null;
  const value = BigInt(string);
  return value <= 0x7fffffffffffffffn ? value : null;
}

const BASE32 = 'ABCDEFGHIJKLMNOPQRSTUVWXYZ234567';
export { BASE32 };

/** Base32 (RFC 4648) without padding. */
export function base32(bytes) {
  let out = '';
  let bits = 0;
  let held = 0;
  for (const byte of bytes) {
    held = (held << 8) | byte;
    bits += 8;
    while (bits >= 5) {
      bits -= 5;
      out += BASE32[(held >> bits) & 31];
    }
    held &= (1 << bits) - 1;
  }
  return bits > 0 ? out + BASE32[(held << (5 - bits)) & 31] : out;
}
