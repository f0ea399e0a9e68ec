// The report as one page, in the words and the order of the program (src/verify/certificate.rs).
import { MOST, say } from './said.js';

/** A place, in words. */
export function placeWords({ file, seq, kind }) {
  const parts = [];
  if (file !== undefined) parts.push(say('AT_FILE', { name: file }));
  if (seq !== undefined) parts.push(say('AT_ENTRY', { seq }));
  if (kind !== undefined) parts.push(say('AT_KIND', { kind }));
  return parts.length === 0 ? say('THE_WHOLE') : parts.join(', ');
}

/** `file` is length and digests of an archive, where that was what was checked. */
export function certificate(report, file) {
  return {
    ...verdict(report),
    facts: facts(report, file),
    sections: sections(report),
    findings: report.findings.slice(0, MOST.findings_shown),
    more: report.moreFindings + Math.max(0, report.findings.length - MOST.findings_shown),
    limits: limits(report.outside),
  };
}

function verdict({ sound, findings, moreFindings, outside }) {
  if (!sound) {
    const wrong = findings.filter((finding) => finding.severity === 'wrong').length + moreFindings;
    return { verdict: say('NOT_SOUND'), sound, meaning: say('NOT_SOUND_MEANS', { wrong, what: 'package' }) };
  }
  if (outside.reached !== null) {
    return { verdict: say('SOUND'), sound, meaning: say('SOUND_MEANS', { number: outside.reached }) };
  }
  return { verdict: say('SOUND_IN_ITSELF'), sound, meaning: say('SOUND_IN_ITSELF_MEANS') };
}

function facts(report, file) {
  const made = report.package;
  const all = [[say('LEDGER'), report.ledger]];
  if (made) {
    all.push([say('CHART_TAG'), made.chart]);
    all.push([say('RELEASE'), say('RELEASE_IS', { release: made.release, made: made.made, by: made.made_by })]);
    if (file) {
      all.push([say('FILE'), say('FILE_BYTES', { bytes: file.bytes })]);
      all.push([say('BLAKE3'), file.blake3], [say('SHA256'), file.sha256]);
    }
    all.push([say('CHECKPOINT_KEY'), made.checkpoint_key]);
  }
  if (report.checkpoint) all.push([say('CHECKPOINT'), say('CHECKPOINT_IS', report.checkpoint)]);
  const { entries, files } = report;
  all.push([say('LOOKED_AT'), say('LOOKED_AT_IS', { entries, charts: 1, files })]);
  return all;
}

const YES = 'YES';
const NO = 'NO';
const PLAIN = 'PLAIN';

function sections({ package: made, outside }) {
  if (!made) return [{ title: say('KEPT_OUTSIDE'), lines: [[PLAIN, say('COMPARED_WITH_NOTHING')]] }];
  const of = (...ids) =>
    made.statements.filter(({ id }) => ids.includes(id)).map(({ holds, words }) => [holds ? YES : NO, words]);
  const contents = of('list-signed', 'unchanged', 'signatures', 'attachments');
  if (made.signers.length > 0) {
    const each = made.signers.map(([code, count]) => `${code} ${count}`).join(', ');
    contents.push([PLAIN, say('SIGNED_BY_CODE', { each })]);
  }
  const complete = of('chart-complete');
  if (complete.length === 0) complete.push([NO, say('COMPLETE_NOT')]);
  const section = (title, lines) => ({ title: say(title), lines: lines.length ? lines : [[NO, say('NOT_SHOWN')]] });
  return [
    section('CONTENTS', contents),
    section('PLACES', of('in-ledger')),
    section('CHART', complete),
    section('WITHHELD', withheld(made.withheld)),
    section('OUTSIDE', outsideLines(outside)),
  ];
}

function withheld(all) {
  const count = all.length;
  const lines = [[PLAIN, count === 0 ? say('NOTHING_WITHHELD') : say('SOME_WITHHELD', { count })]];
  for (const one of all.slice(0, MOST.withheld_shown)) lines.push([PLAIN, say('ONE_WITHHELD', one)]);
  const more = count - MOST.withheld_shown;
  if (more > 0) lines.push([PLAIN, say('MORE_WITHHELD', { count: more })]);
  return lines;
}

const COMPARED = {
  agrees: [YES, 'AGREES'],
  disagrees: [NO, 'DISAGREES'],
  'not-comparable': [PLAIN, 'NOT_COMPARED'],
  'other-ledger': [NO, 'OF_ANOTHER_LEDGER'],
};

function outsideLines({ compared, reached, key_known: keyKnown }) {
  const lines = compared.map(({ what, result }) => [COMPARED[result][0], say(COMPARED[result][1], { what })]);
  lines.push([PLAIN, reached === null ? say('REACHED_BY_NOTHING') : say('REACHED', { number: reached })]);
  if (!keyKnown) lines.push([PLAIN, say('KEY_NOT_KNOWN')]);
  return lines;
}

function limits({ reached, key_known: keyKnown }) {
  const all = [say('LIMIT_TRUE'), say('LIMIT_CLOCK'), say('LIMIT_UNWRITTEN')];
  all.push(reached === null ? say('LIMIT_REBUILT') : say('LIMIT_AFTER', { number: reached }));
  if (!keyKnown) all.push(say('LIMIT_KEY'));
  all.push(say('LIMIT_LATER'));
  return all;
}
