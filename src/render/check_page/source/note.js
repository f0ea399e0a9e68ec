// Signed notes (C2SP signed-note v1.0.0, Ed25519 = type 0x01): a text, an empty line, one signature line per key.
import { encode, hex, same, text as utf8, unbase64, concat } from './bytes.js';
import { sha256 } from './digest.js';
import { isStrongKey, verify } from './ed25519.js';
import { MOST } from './said.js';

const ED25519 = 1;
/** What keys may be named: no Unicode space (White_Space), no plus sign, no control character. */
const KEY_NAME = /^[^\s\u0085+\u0000-\u001f]+$/u;

const isKeyName = (name) => KEY_NAME.test(name.replaceAll('\ufeff', 'x'));

/** A note of the right form; null for anything else. Nothing in it is trusted yet. */
export function readNote(bytes) {
  if (bytes === null || bytes.length > MOST.note) return null;
  const whole = utf8(bytes);
  // eslint-disable-next-line no-control-regex
  if (whole === null || /[\u0000-\u0009\u000b-\u001f]/.test(whole)) return null;
  const end = whole.lastIndexOf('\n\n');
  if (end < 0 || !whole.endsWith('\n')) return null;
  const lines = whole.slice(end + 2).slice(0, -1).split('\n');
  if (end + 2 === whole.length || lines.length > MOST.signatures) return null;
  const signatures = lines.map(readLine);
  return signatures.includes(null) ? null : { text: whole.slice(0, end + 1), signatures };
}

function readLine(line) {
  const found = /^\u2014 ([^ ]*) (.*)$/su.exec(line);
  if (!found || !isKeyName(found[1])) return null;
  const decoded = unbase64(found[2]);
  if (decoded === null || decoded.length < 5) return null;
  return { name: found[1], keyId: hex(decoded.subarray(0, 4)), bytes: decoded.subarray(4) };
}

/** A vkey, `name+id+base64`: a key that may be relied on, with its name; null for anything else. */
export async function readVkey(vkey) {
  const [, name, id, base64] = /^([^+]*)\+([^+]*)\+(.*)$/su.exec(vkey) ?? [];
  if (name === undefined || !isKeyName(name) || !/^[0-9a-f]{8}$/.test(id)) return null;
  const typed = unbase64(base64);
  if (typed === null || typed.length !== 33 || typed[0] !== ED25519) return null;
  const digest = await sha256(concat(encode(`${name}\n`), typed));
  const key = typed.slice(1);
  return hex(digest.subarray(0, 4)) === id && isStrongKey(key) ? { name, keyId: id, key } : null;
}

const isBy = (verifier, line) => verifier.name === line.name && verifier.keyId === line.keyId;
const sameKey = (a, b) => a.name === b.name && same(a.key, b.key);

/**
 * The lines by known keys, unchecked. As `error`: a known key with a signature of the wrong length, two different
 * keys that can't be told apart, or no known key at all.
 */
export function claims(note, verifiers) {
  const found = [];
  for (const [at, line] of note.signatures.entries()) {
    const matching = verifiers.filter((verifier) => isBy(verifier, line));
    if (matching.length === 0) continue;
    if (matching.some((other) => !sameKey(other, matching[0]))) return { error: true };
    if (line.bytes.length !== 64) return { error: true };
    found.push({ at, verifier: matching[0], signature: line.bytes });
  }
  return found.length === 0 ? { error: true } : { claims: found };
}

export const bearsKnownKey = (note, verifiers) =>
  note.signatures.some((line) => verifiers.some((verifier) => isBy(verifier, line)));

/** Whether every one of these signatures is right. */
export async function allRight(note, found) {
  const message = encode(note.text);
  for (const claim of found) {
    if (!(await verify(claim.verifier.key, claim.signature, message))) return false;
  }
  return true;
}

/** The lines that count, at most one for each key. */
export const distinct = (found) =>
  found.filter((claim, at) => !found.slice(0, at).some((other) => sameKey(other.verifier, claim.verifier)));
