// How much of a chart a package gives: what was asked for, what is withheld and why, what differs since an earlier
// package. Everything said about it must fit the entries that are there.
import { encode, same } from './bytes.js';
import { readMoment } from './moment.js';
import { DIFFERENCE_WORDS, DIFFERENCES, F, OUTSIDE_REQUEST, OUTSIDE_SLIP, say } from './said.js';

const anyDate = (span) => !span.from && !span.until && !(span.days ?? []).length;
const ofKind = (span, kind) => !(span.kinds ?? []).length || span.kinds.includes(kind);
/** Rust counts a field that is null and one that is missing as the same. */
const orNull = (value) => value ?? null;

/** True when a record was asked for: its date of service lies in the span, and its kind is one of its kinds. */
function asked(span, record) {
  const first = readMoment(record.happened.start).day;
  const last = record.happened.end ? readMoment(record.happened.end).day : first;
  const inSpan =
    (span.from || span.until) && (!span.from || span.from <= last) && (!span.until || first <= span.until);
  const onADay = (span.days ?? []).some((day) => first <= day && day <= last);
  return (anyDate(span) || inSpan || onADay) && ofKind(span, record.kind);
}

/** Everything that does not fit. `records` are those given that are the ones sealed, by number. */
export function checkExtent(manifest, records, members) {
  const found = [];
  const at = {
    entry: (id, entry) => found.push({ id, where: { seq: entry.seq, kind: entry.kind } }),
    file: (id, file) => found.push({ id, where: { file } }),
    number: (id, seq) => found.push({ id, where: { seq } }),
  };
  const release = records.get(manifest.release);
  const data = release?.known && release.record.kind === 'release' ? release.record.data : null;
  withheld(manifest, data, members, at);
  span(manifest, records, data, at);
  differences(manifest, data, members, at);
  return found;
}

const slipName = (number) => `slips/${String(number).padStart(6, '0')}.txt`;

/** Reason, slip and release entry say the same of every entry that is withheld. */
function withheld(manifest, data, members, at) {
  const slips = new Set();
  for (const entry of manifest.entries) {
    const [words, reason] = [orNull(entry.withheld), orNull(entry.reason)];
    const named = reason === null ? null : reason === OUTSIDE_REQUEST ? OUTSIDE_SLIP : slipName(entry.chart_seq);
    // Not only white space (Unicode White_Space, of which U+FEFF is none).
    const said = words !== null && /[^\s\u0085]|\ufeff/.test(words);
    const there = named === null || members.byName.has(named);
    const fits = (words !== null) === (reason !== null) && orNull(entry.slip) === named;
    if (!fits || !there || said !== (reason !== null)) at.entry(F.WITHHELD_UNCLEAR, entry);
    if (named !== null) slips.add(named);
  }
  for (const name of members.names()) {
    if (name.startsWith('slips/') && !slips.has(name)) at.file(F.WITHHELD_UNCLEAR, name);
  }
  if (data === null) return;
  const recorded = new Map();
  for (const slip of data.withheld ?? []) {
    if (orNull(slip.entry) !== null) recorded.set(slip.entry, [orNull(slip.reason), slip.ground]);
  }
  for (const entry of manifest.entries) {
    const listed = orNull(entry.withheld) === null || entry.reason === OUTSIDE_REQUEST
      ? null
      : [orNull(entry.reason), entry.withheld];
    const slip = recorded.get(entry.seq) ?? null;
    const equal = listed === null ? slip === null : slip !== null && listed.every((x, i) => x === slip[i]);
    if (!equal) at.entry(F.WITHHELD_UNCLEAR, entry);
  }
}

/** What was asked for is given or withheld; what was not is left out or supports something that is given. */
function span(manifest, records, data, at) {
  const asks = orNull(manifest.span);
  if (asks === null) {
    for (const entry of manifest.entries) {
      if (orNull(entry.supports) !== null || entry.reason === OUTSIDE_REQUEST) at.entry(F.SPAN_BROKEN, entry);
    }
    return;
  }
  const numbers = (keep) => new Set(manifest.entries.filter(keep).map((entry) => entry.seq));
  const given = numbers((entry) => orNull(entry.withheld) === null);
  const leftOut = numbers((entry) => entry.reason === OUTSIDE_REQUEST);
  const counted = numbers(() => true);
  for (const entry of manifest.entries) {
    if (entry.seq === manifest.release) continue;
    const supports = orNull(entry.supports);
    let fits;
    if (entry.reason === OUTSIDE_REQUEST) {
      // The date of what is left out is sealed: of that, only the kind can be compared.
      fits = supports === null && !(anyDate(asks) && ofKind(asks, entry.kind));
    } else if (orNull(entry.reason) !== null) fits = supports === null;
    else if (supports !== null) fits = counted.has(supports) && !leftOut.has(supports);
    else fits = !records.has(entry.seq) || asked(asks, records.get(entry.seq).record);
    if (!fits) at.entry(F.SPAN_BROKEN, entry);
  }
  if (data === null) return;
  const recorded = new Set([...(data.what.entry_list ?? []), manifest.release]);
  const equal = recorded.size === given.size && [...recorded].every((seq) => given.has(seq));
  if (!equal || !sameSpan(data.what, asks)) at.file(F.SPAN_BROKEN, 'manifest.json');
}

function sameSpan(one, other) {
  const list = (items) => JSON.stringify(items ?? []);
  return (
    orNull(one.from) === orNull(other.from) &&
    orNull(one.until) === orNull(other.until) &&
    list(one.days) === list(other.days) &&
    list(one.kinds) === list(other.kinds)
  );
}

/** The text of differences.txt: the same list for people. */
function toText(differences, release) {
  const list = differences.list ?? [];
  let out = `${say('DIFFERS_HEAD', { release, since: differences.since })}\n\n`;
  if (list.length === 0) out += `${say('DIFFERS_NOTHING')}\n`;
  for (const one of list) {
    out += '- ';
    if (orNull(one.entry) !== null) out += say('DIFFERS_ENTRY', { entry: one.entry });
    if (orNull(one.file) !== null) out += say('DIFFERS_FILE', { file: one.file });
    out += DIFFERENCE_WORDS.get(one.what);
    if (orNull(one.by) !== null) out += say('DIFFERS_BY', { by: one.by });
    out += '\n';
  }
  return `${out}\n${say('DIFFERS_FOOT')}\n`;
}

/** The list for people and the list in the manifest are one list, and it speaks of entries of this chart. */
function differences(manifest, data, members, at) {
  const listed = orNull(manifest.differences);
  const text = members.bytes(DIFFERENCES);
  const wanted = listed === null ? null : encode(toText(listed, manifest.release));
  const equal = text === null || wanted === null ? text === wanted : same(text, wanted);
  if (!equal) at.file(F.DIFFERENCES_BROKEN, DIFFERENCES);
  if (data !== null && orNull(data.what.since) !== (listed?.since ?? null)) {
    at.file(F.DIFFERENCES_BROKEN, 'manifest.json');
  }
  if (listed === null) return;
  const kindOf = new Map(manifest.entries.map((entry) => [entry.seq, entry.kind]));
  if (listed.since >= manifest.release || kindOf.get(listed.since) !== 'release') {
    at.file(F.DIFFERENCES_BROKEN, 'manifest.json');
  }
  const list = listed.list ?? [];
  const added = new Set();
  for (const one of list) {
    if (one.what === 'added-after' && orNull(one.entry) !== null) added.add(one.entry);
  }
  for (const entry of manifest.entries) {
    const later = entry.seq > listed.since && entry.seq !== manifest.release;
    if (later !== added.has(entry.seq)) at.entry(F.DIFFERENCES_BROKEN, entry);
  }
  for (const seq of list.flatMap((one) => [orNull(one.entry), orNull(one.by)])) {
    if (seq !== null && !kindOf.has(seq)) at.number(F.DIFFERENCES_BROKEN, seq);
  }
}
