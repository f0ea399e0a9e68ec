// The checks of a package, in the order and with the findings of the program (src/verify/package.rs): everything
// from the package alone, and then against what the reader typed in.
import { base32, hex, text as utf8, unhex32 } from './bytes.js';
import { keyedBlake, blake, leafHash, politely } from './digest.js';
import { checkExtent } from './extent.js';
import { isObject, readJson } from './json.js';
import { KeyBook } from './keybook.js';
import { fitsKind, fitsManifest, fitsRecord } from './layout.js';
import { readLeaf } from './leaf.js';
import { readDay, readMoment } from './moment.js';
import { readNote, readVkey } from './note.js';
import { F, MOST, PACKAGE_EDITION, Trouble, say, severity, told } from './said.js';
import { statements, withheldOf } from './statements.js';
import { KnownParts, isIncluded, openCheckpoint, readProof, sameCheckpoint } from './tree.js';

/** Checks what was read of a package; `pins` are slips and receipts. The report is that of `inkfast-check --json`. */
export async function checkPackage(members, pins) {
  const manifestJson = read(members, 'manifest.json');
  refuseLaterEdition(manifestJson);
  const checker = new Checker(members);
  for (const { id, where } of members.findings) checker.find(id, where);
  const manifest = manifestJson !== undefined && fitsManifest(manifestJson) ? manifestJson : null;
  const right = manifest?.inkfast_package === BigInt(PACKAGE_EDITION);
  const key = right ? await readVkey(manifest.checkpoint_key) : null;
  let [whole, outside] = [false, { reached: null, compared: [], key_known: false }];
  if (key !== null && key.name === manifest.ledger) {
    whole = await checker.all(manifest, key);
    outside = await checker.compare(key, pins);
  } else {
    checker.findFile(F.MANIFEST_UNREADABLE, 'manifest.json');
  }
  return checker.report(manifest, whole, outside);
}

const read = (members, name) => {
  const text = members.byName.has(name) ? utf8(members.bytes(name)) : null;
  return text === null ? undefined : readJson(text);
};

/** A later edition may hold what this page does not know of: that is neither sound nor wrong. */
function refuseLaterEdition(manifest) {
  const edition = isObject(manifest) ? manifest.inkfast_package : null;
  if (typeof edition === 'bigint' && edition > BigInt(PACKAGE_EDITION)) {
    const what = say('LATER_EDITION', { edition, known: PACKAGE_EDITION });
    throw new Trouble(what, say('LATER_EDITION_SAFE'), say('LATER_EDITION_NEXT'));
  }
}

/** The largest number there can be, which no entry has. */
const LAST_NUMBER = (1n << 64n) - 1n;

const entryName = (number) => `entries/${String(number).padStart(6, '0')}`;

class Checker {
  #members;
  #findings = [];
  #moreFindings = 0;
  /** Which findings there are, named one by one or only counted. */
  #ids = new Set();
  #book = new KeyBook();
  #keysTaken = 0;
  #checkpoint = null;
  #known = null;
  /** Checkpoints in proofs, by their text: most proofs bear the same one. */
  #opened = new Map();
  #signers = new Map();
  #lastWritten = null;
  /** Attachments named by records that were given, by digest. */
  #attachments = new Set();
  #given = 0;
  /** The records of the chart that were given and are the ones that were sealed, by number. */
  #records = new Map();

  constructor(members) {
    this.#members = members;
  }

  find(id, where) {
    this.#ids.add(id);
    if (this.#findings.length < MOST.findings) this.#findings.push({ id, where });
    else this.#moreFindings += 1;
  }

  findFile(id, file, seq) {
    this.find(id, seq === undefined ? { file } : { file, seq });
  }

  get #count() {
    return this.#findings.length + this.#moreFindings;
  }

  /** Every check; true when the chart is whole up to the release. */
  async all(manifest, key) {
    this.#listed(manifest);
    const note = readNote(this.#members.bytes('ledger/checkpoint'));
    this.#checkpoint = await openCheckpoint(note, key);
    if (this.#checkpoint === null) this.findFile(F.CHECKPOINT_BROKEN, 'ledger/checkpoint');
    else this.#known = new KnownParts(this.#checkpoint.size, this.#checkpoint.root);
    const whole = await this.#chart(manifest, key);
    for (const { id, where } of checkExtent(manifest, this.#records, this.#members)) this.find(id, where);
    await this.#keysBefore(LAST_NUMBER, manifest, key);
    await this.#manifestNote(manifest);
    for (const name of this.#members.names()) {
      const isAttachment = name.startsWith('attachments/');
      if (isAttachment && !this.#attachments.has(name.slice('attachments/'.length))) {
        this.findFile(F.MEMBER_NOT_LISTED, name);
      }
    }
    return whole;
  }

  /** The members are exactly the listed ones, each as listed. */
  #listed(manifest) {
    const names = new Set(['manifest.json', 'manifest.note']);
    for (const file of manifest.files) {
      if (names.has(file.name)) this.findFile(F.MEMBER_NOT_LISTED, file.name);
      names.add(file.name);
      const member = this.#members.byName.get(file.name);
      if (member === undefined) {
        this.findFile(F.MEMBER_MISSING, file.name);
      } else if (
        BigInt(member.size) !== file.bytes || hex(member.blake3) !== file.blake3 || hex(member.sha256) !== file.sha256
      ) {
        this.findFile(F.MEMBER_CHANGED, file.name);
      }
    }
    for (const name of this.#members.names()) {
      if (!names.has(name)) this.findFile(F.MEMBER_NOT_LISTED, name);
    }
  }

  async #manifestNote(manifest) {
    const json = this.#members.byName.get('manifest.json');
    const text = `inkfast-package/v1\n${manifest.ledger}\nrelease ${manifest.release}\n` +
      `blake3 ${hex(json.blake3)}\nsha256 ${hex(json.sha256)}\n`;
    const note = readNote(this.#members.bytes('manifest.note'));
    const day = readDay(manifest.made.slice(0, 10));
    const good = note !== null && day !== null && note.text === text &&
      (await this.#book.problem(note, manifest.made_by, day, false)) === null;
    if (!good) this.findFile(F.MANIFEST_SIGNATURE, 'manifest.note');
  }

  /** Leaf, proof and signature of one entry; the leaf if they hold together. */
  async #entry(name, seq, manifest, key, keys) {
    await politely();
    const bytes = this.#members.bytes(`${name}.leaf`);
    if (bytes === null) {
      this.findFile(F.MEMBER_MISSING, `${name}.leaf`, seq);
      return null;
    }
    const leaf = readLeaf(bytes);
    if (leaf === null) {
      this.find(F.LEAF_UNREADABLE, { file: name, seq });
      return null;
    }
    const where = { file: name, seq, kind: leaf.leaf.kind };
    const hash = await leafHash(bytes);
    const proof = readProof(this.#members.bytes(`${name}.tlog-proof`));
    if (await this.#isProven(proof, leaf.leaf.seq, seq, hash, key)) {
      this.#known.take(proof.index, hash, proof.hashes);
    } else {
      this.find(F.PROOF_BROKEN, where);
    }
    if (leaf.leaf.ledger !== manifest.ledger || (!keys && leaf.leaf.chart !== manifest.chart)) {
      this.find(F.OTHER_CHART, where);
    }
    const { author } = leaf.leaf;
    const problem = await this.#book.problem(leaf.note, author, leaf.written.day, keys);
    if (problem !== null) this.find(problem, where);
    else if (!keys) this.#signers.set(author, (this.#signers.get(author) ?? 0) + 1);
    return { ...leaf, digest: hex(blake(bytes)) };
  }

  async #isProven(proof, leafSeq, seq, hash, key) {
    if (proof === null || leafSeq !== seq || proof.index + 1n !== seq) return false;
    if (!this.#opened.has(proof.checkpoint)) {
      this.#opened.set(proof.checkpoint, await openCheckpoint(proof.note, key));
    }
    const shown = this.#opened.get(proof.checkpoint);
    return sameCheckpoint(shown, this.#checkpoint) && isIncluded(hash, proof.index, proof.hashes, shown);
  }

  /** Takes over the `keys` entries in front of entry `seq`, and no later one. */
  async #keysBefore(seq, manifest, key) {
    for (;;) {
      const next = manifest.keys[this.#keysTaken];
      if (next === undefined || next >= seq) return;
      this.#keysTaken += 1;
      await this.#keysEntry(next, manifest, key);
    }
  }

  /** A `keys` entry: what it lists counts from then on. */
  async #keysEntry(seq, manifest, key) {
    const name = `keys/${seq}`;
    const record = read(this.#members, `${name}.record.json`);
    const usable = record !== undefined && fitsRecord(record) && record.kind === 'keys' && fitsKind(record) === true;
    if (!usable) return this.findFile(F.KEYS_UNREADABLE, name, seq);
    if (seq === 1n) await this.#book.take(record.data);
    const before = this.#count;
    const leaf = await this.#entry(name, seq, manifest, key, true);
    if (leaf !== null) this.#record(name, leaf);
    if (this.#count === before && !(await this.#book.take(record.data))) {
      this.findFile(F.KEYS_UNREADABLE, name, seq);
    }
  }

  /** A record against its leaf; null where it is not the one that was sealed. */
  #record(name, { leaf, written }) {
    const where = { file: name, seq: leaf.seq, kind: leaf.kind };
    const bytes = this.#members.bytes(`${name}.record.json`);
    const typed = this.#members.bytes(`${name}.opening`);
    const line = typed === null ? null : utf8(typed);
    const opening = line?.endsWith('\n') ? unhex32(line.slice(0, -1)) : null;
    if (bytes === null || opening === null || hex(keyedBlake(opening, bytes)) !== leaf.commit) {
      this.find(F.RECORD_CHANGED, where);
      return null;
    }
    const record = read(this.#members, `${name}.record.json`);
    if (record === undefined || !fitsRecord(record)) {
      this.find(F.RECORD_HEAD, where);
      return null;
    }
    const fits = record.kind === leaf.kind && record.ledger === leaf.ledger &&
      (record.chart ?? null) === leaf.chart && readMoment(record.written).text === written.text &&
      record.author.code === leaf.author;
    if (!fits) this.find(F.RECORD_HEAD, where);
    const known = fitsKind(record);
    if (known === null) this.find(F.CANNOT_SHOW, where);
    else if (!known) this.find(F.RECORD_HEAD, where);
    else if (record.kind === 'attachment') this.#attachment(record.data, leaf.seq);
    return { record, known };
  }

  #attachment({ plain_digest: digest, size }, seq) {
    const name = `attachments/${digest}`;
    const member = this.#members.byName.get(name);
    if (member === undefined) this.findFile(F.ATTACHMENT_MISSING, name, seq);
    else if (hex(member.blake3) !== digest || BigInt(member.size) !== size) {
      this.findFile(F.ATTACHMENT_CHANGED, name, seq);
    }
    this.#attachments.add(digest);
  }

  /** The chart's entries from 1 to the release, each linked to the one before. */
  async #chart(manifest, key) {
    let whole = true;
    let before = null;
    let last = null;
    for (const [at, listed] of manifest.entries.entries()) {
      const number = BigInt(at + 1);
      const name = entryName(number);
      const where = { file: name, seq: listed.seq };
      await this.#keysBefore(listed.seq, manifest, key);
      const entry = await this.#entry(name, listed.seq, manifest, key, false);
      if (entry === null) {
        [whole, before] = [false, null];
        continue;
      }
      const { leaf, written } = entry;
      if (leaf.chart_seq !== number || listed.chart_seq !== number || leaf.kind !== listed.kind) {
        whole = false;
        this.find(F.CHART_NUMBER_BROKEN, where);
      }
      if (leaf.chart_prev !== before) {
        whole = false;
        this.find(F.CHART_LINK_BROKEN, where);
      }
      this.#givenOrWithheld(listed, name, entry, where);
      if (this.#lastWritten !== null && written.instant < this.#lastWritten) {
        this.find(F.CLOCK_WENT_BACK, { file: name, seq: leaf.seq, kind: leaf.kind });
      }
      this.#lastWritten = written.instant;
      last = leaf;
      before = entry.digest;
    }
    const ends = last !== null && last.kind === 'release' && last.seq === manifest.release &&
      last.author === manifest.made_by && last.written === manifest.made;
    if (!ends) {
      whole = false;
      this.find(F.RELEASE_MISSING, { seq: manifest.release });
    }
    return whole;
  }

  #givenOrWithheld(listed, name, entry, where) {
    if ((listed.withheld ?? null) !== null) {
      if (this.#members.byName.has(`${name}.record.json`)) this.find(F.MEMBER_NOT_LISTED, where);
      return;
    }
    const record = this.#record(name, entry);
    if (record === null) return;
    this.#given += 1;
    this.#records.set(entry.leaf.seq, record);
  }

  /** The checks against slips and receipts; none of them can be made without a checkpoint. */
  async compare(key, pins) {
    const outside = { reached: null, compared: [], key_known: false };
    if (this.#checkpoint === null) return outside;
    for (const pin of pins) {
      const result = await this.#compareOne(pin, key);
      if (result === 'agrees' && (outside.reached === null || pin.number > outside.reached)) {
        outside.reached = pin.number;
      }
      outside.compared.push({ what: `${say(pin.what)} ${pin.number}`, number: pin.number, result });
    }
    const ids = {
      disagrees: F.REWRITTEN_OUTSIDE,
      'not-comparable': F.OUTSIDE_NOT_COMPARABLE,
      'other-ledger': F.OUTSIDE_OTHER,
    };
    for (const { number, result } of outside.compared) {
      if (result !== 'agrees') this.find(ids[result], { seq: number });
    }
    return outside;
  }

  async #compareOne(pin, key) {
    if (pin.ledger !== null && pin.ledger !== key.name) return 'other-ledger';
    let hash = null;
    if (pin.what === 'SLIP') hash = await this.#known.rootOf(pin.number);
    else if (pin.number > 0n) hash = this.#known.leaf(pin.number - 1n);
    if (hash === null) return 'not-comparable';
    return base32(hash).startsWith(pin.letters) ? 'agrees' : 'disagrees';
  }

  report(manifest, whole, outside) {
    const bad = (finding) => (severity(finding.id) === 'wrong' ? 1 : 0);
    const seq = (finding) => finding.where.seq ?? -1n;
    const findings = this.#findings.sort(
      (a, b) => bad(b) - bad(a) || (seq(a) < seq(b) ? -1 : seq(a) > seq(b) ? 1 : 0),
    );
    const shown = statements(manifest, this.#ids, whole, this.#given, this.#attachments.size);
    const made = manifest && {
      chart: manifest.chart,
      release: manifest.release,
      made: manifest.made,
      made_by: manifest.made_by,
      checkpoint_key: manifest.checkpoint_key,
      statements: shown,
      signers: [...this.#signers].sort(([a], [b]) => (a < b ? -1 : 1)),
      withheld: withheldOf(manifest),
      outside,
    };
    const { size, root } = this.#checkpoint ?? {};
    return {
      sound: [...this.#ids].every((id) => severity(id) === 'notice'),
      ledger: manifest?.ledger ?? '',
      entries: manifest?.entries.length ?? 0,
      files: this.#attachments.size,
      checkpoint: this.#checkpoint && { size, root: hex(root) },
      package: made,
      findings: findings.map(({ id, where }) => told(id, where)),
      moreFindings: this.#moreFindings,
      outside,
    };
  }
}
