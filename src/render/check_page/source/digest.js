// Digests. SHA-256 is the browser's own (WebCrypto). BLAKE3 is none that browsers have, so it is that of
// @noble/hashes; so is the SHA-256 of a part too long to be held in memory, since WebCrypto takes only whole ones.
import { blake3 } from '@noble/hashes/blake3.js';
import { sha256 as longSha256 } from '@noble/hashes/sha2.js';
import { concat } from './bytes.js';

/** The longest part that is read into memory as a whole, in bytes. */
const WHOLE = 64 << 20;
/** How much of a longer one is read and hashed at a time, in bytes. */
const SLICE = 1 << 20;

export const sha256 = async (bytes) => new Uint8Array(await crypto.subtle.digest('SHA-256', bytes));
export const blake = (bytes) => blake3(bytes);
export const keyedBlake = (key, bytes) => blake3(bytes, { key });

const channel = new MessageChannel();
const waiting = [];
channel.port1.onmessage = () => waiting.shift()?.();
/** Lets the browser draw and take clicks. Not a timer: those are held up in a tab that is not in front. */
const breathe = () =>
  new Promise((go) => {
    waiting.push(go);
    channel.port2.postMessage(0);
  });

let last = 0;
/** As `breathe`, if the page was busy for longer than a person notices. */
export async function politely() {
  if (performance.now() - last < 12) return;
  await breathe();
  last = performance.now();
}

/** Both digests of something that may be long; `keep` gets each slice, `progress` its length. */
export async function digests(blob, progress, keep = () => {}) {
  const whole = blob.size <= WHOLE ? new Uint8Array(await blob.arrayBuffer()) : null;
  const shaOfWhole = whole && sha256(whole);
  const [ofBlake, ofSha] = [blake3.create({}), longSha256.create()];
  for (let at = 0; at < blob.size; at += SLICE) {
    const end = Math.min(at + SLICE, blob.size);
    const bytes = whole?.subarray(at, end) ?? new Uint8Array(await blob.slice(at, end).arrayBuffer());
    keep(bytes);
    ofBlake.update(bytes);
    if (whole === null) ofSha.update(bytes);
    progress(bytes.length);
    await politely();
  }
  return { size: blob.size, blake3: ofBlake.digest(), sha256: shaOfWhole ? await shaOfWhole : ofSha.digest() };
}

/** RFC 6962 section 2.1. */
export const leafHash = (entry) => sha256(concat(Uint8Array.of(0), entry));
export const nodeHash = (left, right) => sha256(concat(Uint8Array.of(1), left, right));
export const emptyRoot = () => sha256(new Uint8Array());
