// What was proven of a package, statement by statement: each holds only if nothing was found that speaks against it
// (src/verify/statements.rs).
import { F, say } from './said.js';

const ENTRIES = [F.MANIFEST_UNREADABLE, F.MEMBER_MISSING, F.LEAF_UNREADABLE, F.OTHER_CHART, F.KEYS_UNREADABLE];
const LIST = [F.MANIFEST_UNREADABLE, F.MANIFEST_SIGNATURE, F.MEMBER_CHANGED, F.MEMBER_MISSING, F.MEMBER_NOT_LISTED,
  F.MEMBER_NAME];
const SIGNERS = [F.SIGNER_NOT_LISTED, F.SIGNATURE_WRONG, F.SIGNER_NOT_THAT_DAY, F.SIGNER_MAY_NOT];
const PLACE = [F.PROOF_BROKEN, F.CHECKPOINT_BROKEN];
const CHAIN = [F.CHART_NUMBER_BROKEN, F.CHART_LINK_BROKEN, F.RELEASE_MISSING];

/** The statements; none where the list could not be read. */
export function statements(manifest, found, whole, given, attachments) {
  const none = (...lists) => !lists.flat().some((id) => found.has(id));
  if (manifest === null || found.has(F.MANIFEST_UNREADABLE)) return [];
  const entries = manifest.entries;
  const [n, keys, by] = [entries.length, manifest.keys.length, manifest.made_by];
  const count = entries.filter((entry) => (entry.withheld ?? null) !== null).length;
  const withheld = count === 0 ? '' : say('CHART_WITHHELD', { count });
  const span = n === 0 ? say('NO_ENTRY') : say('NUMBERS', { first: entries[0].seq, last: entries[n - 1].seq });
  const complete = whole &&
    none(ENTRIES, SIGNERS, PLACE, CHAIN, F.MANIFEST_SIGNATURE, F.WITHHELD_UNCLEAR, F.SPAN_BROKEN);
  const one = (id, holds, yes, no) => ({ id, holds, words: holds ? yes : say(no) });
  return [
    one('list-signed', none(LIST), say('LIST_SIGNED', { by }), 'LIST_SIGNED_NOT'),
    one('unchanged', none(ENTRIES, F.RECORD_CHANGED, F.RECORD_HEAD), say('UNCHANGED', { given }), 'UNCHANGED_NOT'),
    one('signatures', none(ENTRIES, SIGNERS), say('SIGNATURES', { n, keys }), 'SIGNATURES_NOT'),
    one(
      'attachments',
      none(ENTRIES, F.ATTACHMENT_CHANGED, F.ATTACHMENT_MISSING, F.RECORD_CHANGED),
      attachments === 0 ? say('ATTACHMENTS_NONE') : say('ATTACHMENTS', { count: attachments }),
      'ATTACHMENTS_NOT',
    ),
    one('in-ledger', none(ENTRIES, PLACE), say('IN_LEDGER', { n, span }), 'IN_LEDGER_NOT'),
    one('chart-complete', complete, say('CHART_COMPLETE', { n }) + withheld, 'CHART_COMPLETE_NOT'),
  ];
}

/** Entries whose contents are withheld. */
export const withheldOf = (manifest) =>
  manifest.entries
    .filter((entry) => (entry.withheld ?? null) !== null)
    .map(({ chart_seq: number, seq, kind, withheld: reason }) => ({ number, seq, kind, reason }));
