// Digests. SHA-256 is the browser's own (WebCrypto). BLAKE3 is none that browsers have, so it is that of
// @noble/hashes; so is the SHA-256 of a part too long to be held in memory, since WebCrypto takes only whole ones.
import { blake3 } from '@noble/hashes/blake3.js';
import { sha256 as longSha256 } from '@noble/hashes/sha2.js';
import { concat } from './bytes.js';

/** The longest part that is read into memory as a whole, in bytes. */
const WHOLE = 4 << 20;
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
  if (blob.size <= WHOLE) {
    const bytes = new Uint8Array(await blob.arrayBuffer());
    keep(bytes);
    const both = { size: bytes.length, blake3: blake(bytes), sha256: await sha256(bytes) };
    progress(bytes.length);
    await politely();
    return both;
  }
  const both = new BothDigests();
  for (let at = 0; at < blob.size; at += SLICE) {
    const bytes = new Uint8Array(await blob.slice(at, at + SLICE).arrayBuffer());
    keep(bytes);
    both.update(bytes);
    progress(bytes.length);
    await politely();
  }
  return both.done();
}

/** Both digests of something that comes in slices. */
class BothDigests {
  #blake = blake3.create({});
  #sha = longSha256.create();
  #size = 0;

  update(bytes) {
    this.#blake.update(bytes);
    this.#sha.update(bytes);
    this.#size += bytes.length;
  }

  done() {
    return { size: this.#size, blake3: this.#blake.digest(), sha256: this.#sha.digest() };
  }
}

/** RFC 6962 section 2.1. */
export const leafHash = (entry) => sha256(concat(Uint8Array.of(0), entry));
export const nodeHash = (left, right) => sha256(concat(Uint8Array.of(1), left, right));
export const emptyRoot = () => sha256(new Uint8Array());
