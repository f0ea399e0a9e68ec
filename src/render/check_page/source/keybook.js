// Whose signature counts on which day: the public keys that entries of kind `keys` list.
import { isRecipient } from './recipient.js';
import { allRight, bearsKnownKey, claims, distinct, readVkey } from './note.js';
import { same } from './bytes.js';
import { F } from './said.js';

export class KeyBook {
  #staff = [];

  /** Takes over what a `keys` entry lists, up to the first line that is no usable key; false when there is one. */
  async take(keys) {
    for (const line of keys.staff ?? []) {
      const verifier = await readVkey(line.vkey);
      if (verifier === null || verifier.name !== line.code) return false;
      this.#staff = this.#staff.filter((l) => !same(l.verifier.key, verifier.key) || l.code !== line.code);
      const { code, roles = [], from, until = null } = line;
      this.#staff.push({ code, roles, verifier, from, until });
    }
    return (keys.roles ?? []).every((line) => isRecipient(line.recipient));
  }

  /** The first reason for which the signatures on a leaf do not count, as a finding; null when they do. */
  async problem(note, author, day, changesKeys) {
    const verifiers = this.#staff.map((line) => line.verifier);
    const { error, claims: found } = claims(note, verifiers);
    if (error) return bearsKnownKey(note, verifiers) ? F.SIGNATURE_WRONG : F.SIGNER_NOT_LISTED;
    if (!(await allRight(note, found))) return F.SIGNATURE_WRONG;
    return this.#judge(note, distinct(found), author, day, changesKeys);
  }

  #judge(note, lines, author, day, changesKeys) {
    let byAuthor = null;
    for (const { at } of lines) {
      const { name, keyId } = note.signatures[at];
      const key = this.#staff.find((l) => l.verifier.name === name && l.verifier.keyId === keyId);
      if (day < key.from || (key.until !== null && day > key.until)) return F.SIGNER_NOT_THAT_DAY;
      if (at === 0 && key.code === author) byAuthor = key;
    }
    if (byAuthor === null) return F.SIGNER_NOT_LISTED;
    return changesKeys && !byAuthor.roles.includes('custodian') ? F.SIGNER_MAY_NOT : null;
  }
}
