// The parts of a package as they are read: digests of all, the bytes of what is checked by its contents. A package
// comes from outside, so what is kept of it in memory is limited, as in the program.
import { concat } from './bytes.js';
import { digests } from './digest.js';
import { DIFFERENCES, F, MOST, notWhole, tooLarge } from './said.js';

const KEPT = new Set(['manifest.json', 'manifest.note', 'ledger/checkpoint', DIFFERENCES]);
const isKept = (name) => KEPT.has(name) || name.startsWith('entries/') || name.startsWith('keys/');

/** Names of members: ASCII letters, digits, `.`, `-`, `_`, in at most four parts that do not begin with a dot. */
function isSafeName(name) {
  const parts = name.split('/');
  const plain = (part) => part.length <= 100 && /^[A-Za-z0-9_-][A-Za-z0-9._-]*$/.test(part);
  return name.length <= 255 && parts.length <= 4 && parts.every(plain);
}

/** Everything in a package. */
export class Members {
  byName = new Map();
  findings = [];
  #kept = 0;

  stray(id, name) {
    if (this.findings.length >= MOST.strays) throw tooLarge('TOO_MANY_STRAYS');
    this.findings.push({ id, where: { file: Array.from(name).slice(0, 200).join('') } });
  }

  /** Reads a member to its end. */
  async take(name, blob, progress) {
    const slices = [];
    const keep = (bytes) => {
      this.#kept += bytes.length;
      if (blob.size > MOST.part || this.#kept > MOST.kept) throw tooLarge('TOO_MUCH_TEXT');
      slices.push(bytes);
    };
    const read = await digests(blob, progress, isKept(name) ? keep : undefined);
    if (!isSafeName(name)) this.stray(F.MEMBER_NAME, name);
    if (this.byName.has(name)) return this.stray(F.MEMBER_NOT_LISTED, name);
    if (this.byName.size >= MOST.members) throw tooLarge('TOO_MANY_PARTS');
    this.byName.set(name, { ...read, bytes: slices.length === 1 ? slices[0] : concat(...slices) });
  }

  /** The bytes of a member; null when it is not there. */
  bytes(name) {
    return this.byName.get(name)?.bytes ?? null;
  }

  /** Every name, in the order of its bytes. */
  names() {
    return [...this.byName.keys()].sort((a, b) => (a < b ? -1 : a > b ? 1 : 0));
  }
}

/** Reads files of an opened folder, each with its name in the package. */
export async function fromFolder(files, progress) {
  const members = new Members();
  for (const { name, file } of files) {
    try {
      await members.take(name, file, progress);
    } catch (error) {
      // A file that was taken away or may not be read since it was chosen.
      throw error instanceof DOMException ? notWhole(`${name}: ${error.message}`) : error;
    }
  }
  return members;
}

const BLOCK = 512;
/** An archive ends in two blocks of zeros (POSIX.1, ustar interchange format). */
const END = 1024;
const CUT = 'a part of it is cut short';

/** Reads a tar archive to its end. */
export async function fromArchive(archive, progress) {
  const members = new Members();
  let at = 0;
  for (;;) {
    const head = new Uint8Array(await archive.slice(at, at + BLOCK).arrayBuffer());
    if (head.length === 0 || (head.length === BLOCK && head.every((byte) => byte === 0))) break;
    const { name, regular, size } = header(head);
    const padded = ((size + 511n) / 512n) * 512n;
    if (BigInt(at + BLOCK) + padded > BigInt(archive.size)) throw notWhole(CUT);
    const end = at + BLOCK + Number(padded);
    if (regular) await members.take(name, archive.slice(at + BLOCK, at + BLOCK + Number(size)), progress);
    else members.stray(F.MEMBER_NOT_LISTED, name);
    at = end;
  }
  await readEnd(archive, at, members);
  return members;
}

/** Nothing but zeros stands behind the last member, and enough of them. */
async function readEnd(archive, at, members) {
  if (archive.size < at + END) throw notWhole('its end is missing');
  for (let from = at; from < archive.size; from += 1 << 20) {
    const bytes = new Uint8Array(await archive.slice(from, from + (1 << 20)).arrayBuffer());
    if (bytes.some((byte) => byte !== 0)) return members.stray(F.MEMBER_NOT_LISTED, 'behind the end of the archive');
  }
}

/** A member's header (ustar): its name, whether it is a plain file, its length. */
function header(head) {
  if (head.length < BLOCK) throw notWhole('failed to read entire block');
  const sum = head.reduce((all, byte, i) => all + (i >= 148 && i < 156 ? 32 : byte), 0);
  if (octal(head.subarray(148, 156)) !== BigInt(sum)) throw notWhole('archive header checksum mismatch');
  const cut = (from, to) => {
    const field = head.subarray(from, to);
    const end = field.indexOf(0);
    return end < 0 ? field : field.subarray(0, end);
  };
  const isUstar = latin(head.subarray(257, 265)) === 'ustar\x0000';
  const prefix = isUstar ? cut(345, 500) : new Uint8Array();
  const bytes = prefix.length > 0 ? concat(prefix, Uint8Array.of(47), cut(0, 100)) : cut(0, 100);
  const size = head[124] & 0x80 ? binary(head.subarray(124, 136)) : octal(head.subarray(124, 136));
  return { name: new TextDecoder().decode(bytes), regular: head[156] === 0 || head[156] === 48, size };
}

const latin = (bytes) => String.fromCharCode(...bytes);

function octal(field) {
  const end = field.indexOf(0);
  const digits = latin(end < 0 ? field : field.subarray(0, end)).trim();
  if (!/^\+?[0-7]+$/.test(digits)) throw notWhole('numeric field was not a number');
  return BigInt(`0o${digits.replace('+', '')}`);
}

/** A number too long for octal digits: its last eight bytes, big-endian, as GNU tar writes it. */
const binary = (field) => field.subarray(4).reduce((sum, byte) => (sum << 8n) | BigInt(byte), 0n);
