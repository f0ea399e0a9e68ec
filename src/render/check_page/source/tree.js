// Places in the ledger: checkpoints (C2SP tlog-checkpoint), proofs (C2SP tlog-proof), and what the proofs of one
// tree together say of its earlier roots.
import { number63, same, text as utf8, unbase64, encode } from './bytes.js';
import { emptyRoot, nodeHash } from './digest.js';
import { allRight, claims, readNote } from './note.js';
import { MOST } from './said.js';

const HEADER = 'c2sp.org/tlog-proof@v1\n';
/** The height of the largest tree. */
const MOST_HASHES = 63;

function hash(line) {
  const bytes = unbase64(line);
  return bytes?.length === 32 ? bytes : null;
}

/** A checkpoint of the key's own ledger that the key has signed; null for anything else. */
export async function openCheckpoint(note, key) {
  const { error, claims: found } = note === null ? { error: true } : claims(note, [key]);
  if (error || !(await allRight(note, found))) return null;
  const lines = note.text.split('\n');
  if (lines.length !== 4 || lines[3] !== '') return null;
  const [origin, size, root] = [lines[0], number63(lines[1]), hash(lines[2])];
  if (origin === '' || origin !== key.name || size === null || root === null) return null;
  if (size === 0n && !same(root, await emptyRoot())) return null;
  return { origin, size, root };
}

export const sameCheckpoint = (a, b) =>
  a !== null && b !== null && a.origin === b.origin && a.size === b.size && same(a.root, b.root);

/** A proof of the right form; null for anything else. */
export function readProof(bytes) {
  if (bytes === null || bytes.length > MOST.proof) return null;
  const whole = utf8(bytes);
  if (whole === null || !whole.startsWith(HEADER)) return null;
  const body = whole.slice(HEADER.length);
  const end = body.indexOf('\n\n');
  if (end < 0) return null;
  const lines = body.slice(0, end).split('\n');
  if (lines[0].startsWith('extra ') && unbase64(lines.shift().slice(6)) === null) return null;
  const place = lines.shift() ?? '';
  const index = place.startsWith('index ') ? number63(place.slice(6)) : null;
  if (index === null || lines.length > MOST_HASHES) return null;
  const hashes = lines.map(hash);
  const checkpoint = body.slice(end + 2);
  const note = readNote(encode(checkpoint));
  return hashes.includes(null) || note === null ? null : { index, hashes, checkpoint, note };
}

/** RFC 9162 section 2.1.3.2: whether a leaf stands at `index` in the tree of this checkpoint. */
export async function isIncluded(leaf, index, hashes, { size, root }) {
  if (index >= size) return false;
  let [node, last, sum] = [index, size - 1n, leaf];
  for (const sibling of hashes) {
    if (last === 0n) return false;
    if ((node & 1n) === 1n || node === last) {
      sum = await nodeHash(sibling, sum);
      while ((node & 1n) === 0n && node !== 0n) [node, last] = [node >> 1n, last >> 1n];
    } else {
      sum = await nodeHash(sum, sibling);
    }
    [node, last] = [node >> 1n, last >> 1n];
  }
  return last === 0n && same(sum, root);
}

/** The largest power of two below a number of 2 or more. */
const split = (size) => 1n << BigInt((size - 1n).toString(2).length - 1);

/** Hashes of parts of one tree, from its checkpoint and from proofs that were checked. */
export class KnownParts {
  #parts = new Map();

  constructor(size, root) {
    this.size = size;
    this.#parts.set(`0-${size}`, root);
  }

  /** Takes over a proof that was checked. */
  take(index, leaf, hashes) {
    if (index >= this.size) return;
    let [low, high] = [0n, this.size];
    const beside = [];
    while (high - low > 1n) {
      const middle = low + split(high - low);
      if (index < middle) {
        beside.push(`${middle}-${high}`);
        high = middle;
      } else {
        beside.push(`${low}-${middle}`);
        low = middle;
      }
    }
    if (beside.length !== hashes.length) return;
    beside.reverse().forEach((part, at) => this.#parts.set(part, hashes[at]));
    this.#parts.set(`${index}-${index + 1n}`, leaf);
  }

  /** The hash of a leaf of which a proof was taken over; otherwise null. */
  leaf(index) {
    return this.#parts.get(`${index}-${index + 1n}`) ?? null;
  }

  /** The root of the tree when it held this many leaves, if it can be worked out; otherwise null. */
  async rootOf(size) {
    return size === 0n || size > this.size ? null : this.#hash(0n, size);
  }

  async #hash(low, high) {
    const known = this.#parts.get(`${low}-${high}`);
    if (known) return known;
    if (high - low < 2n) return null;
    const middle = low + split(high - low);
    const right = await this.#hash(middle, high);
    const left = right && (await this.#hash(low, middle));
    return left && nodeHash(left, right);
  }
}

