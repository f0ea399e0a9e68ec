// The words and limits of the program, never typed a second time: said.json is written by tests/check_page.rs
// from the same tables that inkfast-check says them from.
import said from '../said.json';

export const MOST = said.most;
export const KINDS = new Map(Object.entries(said.kinds));
export const { outside_request: OUTSIDE_REQUEST, outside_slip: OUTSIDE_SLIP } = said;
export const { differences_file: DIFFERENCES, package_edition: PACKAGE_EDITION } = said;
export const DIFFERENCE_WORDS = new Map(Object.entries(said.differences));
export const CHECK_WORDS = said.check_words;

const SENTENCES = new Map(Object.entries(said.sentences));
const FINDINGS = new Map(Object.entries(said.findings));

/** A sentence with its gaps filled. What is put in is never looked at for gaps again. */
export function say(name, gaps = {}) {
  const sentence = SENTENCES.get(name);
  if (sentence === undefined) throw new Error(`no sentence ${name}`);
  return sentence.replace(/\{([a-z]+)\}/g, (_, gap) => String(gaps[gap] ?? ''));
}

/** The id of a finding; a mistyped one ends the page as it loads, so no check can find something without words. */
function known(id) {
  if (!FINDINGS.has(id)) throw new Error(`no finding ${id}`);
  return id;
}

export const F = {
  LEAF_UNREADABLE: known('leaf-unreadable'),
  CHART_NUMBER_BROKEN: known('chart-number-broken'),
  CHART_LINK_BROKEN: known('chart-link-broken'),
  CHECKPOINT_BROKEN: known('checkpoint-broken'),
  SIGNER_NOT_LISTED: known('signer-not-listed'),
  SIGNATURE_WRONG: known('signature-wrong'),
  SIGNER_NOT_THAT_DAY: known('signer-not-that-day'),
  SIGNER_MAY_NOT: known('signer-may-not'),
  KEYS_UNREADABLE: known('keys-unreadable'),
  REWRITTEN_OUTSIDE: known('rewritten-outside-copy'),
  CLOCK_WENT_BACK: known('clock-went-back'),
  MANIFEST_UNREADABLE: known('manifest-unreadable'),
  MANIFEST_SIGNATURE: known('manifest-signature'),
  MEMBER_CHANGED: known('member-changed'),
  MEMBER_MISSING: known('member-missing'),
  MEMBER_NOT_LISTED: known('member-not-listed'),
  MEMBER_NAME: known('member-name'),
  PROOF_BROKEN: known('proof-broken'),
  OTHER_CHART: known('other-chart'),
  RECORD_CHANGED: known('record-changed'),
  RECORD_HEAD: known('record-head'),
  RELEASE_MISSING: known('release-missing'),
  ATTACHMENT_CHANGED: known('attachment-changed'),
  ATTACHMENT_MISSING: known('attachment-missing'),
  WITHHELD_UNCLEAR: known('withheld-unclear'),
  SPAN_BROKEN: known('span-broken'),
  DIFFERENCES_BROKEN: known('differences-broken'),
  CANNOT_SHOW: known('cannot-show'),
  OUTSIDE_OTHER: known('other-ledger-than-kept'),
  OUTSIDE_NOT_COMPARABLE: known('outside-not-comparable'),
};

/** How bad a finding is: `wrong` or `notice`. */
export const severity = (id) => FINDINGS.get(id).severity;

/** A finding as `inkfast-check --json` gives it. */
export const told = (id, where) => ({ id, ...FINDINGS.get(id), where });

/** Nothing could be checked: what happened, what is safe, what to do next. */
export class Trouble extends Error {
  constructor(what, safe, next) {
    super(what);
    this.what = what;
    this.safe = safe;
    this.next = next;
  }
}

export const notWhole = (why) =>
  new Trouble(say('NOT_WHOLE', { why }), say('NOTHING_OPENED'), say('NOT_WHOLE_NEXT'));
export const tooLarge = (name) =>
  new Trouble(say('TOO_LARGE', { what: say(name) }), say('NOTHING_OPENED'), say('TOO_LARGE_NEXT'));
