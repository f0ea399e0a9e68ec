// A leaf: one line of JSON naming what was sealed, signed by whoever wrote it. It has one form only.
import { unhex32 } from './bytes.js';
import { isObject, readJson } from './json.js';
import { readMoment } from './moment.js';
import { readNote } from './note.js';
import { MOST } from './said.js';

const FIELDS = ['v', 'ledger', 'seq', 'prev', 'chart', 'chart_seq', 'chart_prev', 'kind', 'written', 'author',
  'body', 'size', 'commit'];
const NUMBERS = new Set(['v', 'seq', 'chart_seq', 'size']);
const MAY_BE_NULL = new Set(['prev', 'chart', 'chart_seq', 'chart_prev']);

/** The leaf and its note; null when it does not read as one. Signatures are not checked here. */
export function readLeaf(bytes) {
  if (bytes.length > MOST.leaf) return null;
  const note = readNote(bytes);
  if (note === null) return null;
  const line = note.text.slice(0, -1);
  const leaf = line.includes('\n') ? undefined : readJson(line);
  if (!isObject(leaf) || !hasFields(leaf) || leaf.v !== 1n) return null;
  const written = readMoment(leaf.written);
  if (written === null || asWritten(leaf, written) !== line || !wellFormed(leaf)) return null;
  return { leaf, written, note };
}

function hasFields(leaf) {
  const names = Object.keys(leaf);
  return names.length === FIELDS.length && FIELDS.every((name) => {
    const value = leaf[name];
    if (value === null) return MAY_BE_NULL.has(name);
    return NUMBERS.has(name) ? typeof value === 'bigint' && value >= 0n : typeof value === 'string';
  });
}

/** Exactly these fields, in this order, no spaces, each in its one spelling. */
function asWritten(leaf, written) {
  const value = (name) => {
    if (name === 'written') return JSON.stringify(written.text);
    return typeof leaf[name] === 'bigint' ? String(leaf[name]) : JSON.stringify(leaf[name]);
  };
  return `{${FIELDS.map((name) => `"${name}":${value(name)}`).join(',')}}`;
}

function wellFormed(leaf) {
  const digest = (text) => text === null || unhex32(text) !== null;
  const charted = leaf.chart !== null;
  return (
    leaf.seq >= 1n &&
    (leaf.seq === 1n) === (leaf.prev === null) &&
    charted === (leaf.chart_seq !== null) &&
    (!charted || /^[0-9a-f]{32}$/.test(leaf.chart)) &&
    (leaf.chart_seq === null || leaf.chart_seq >= 1n) &&
    (leaf.chart_prev !== null) === (leaf.chart_seq !== null && leaf.chart_seq > 1n) &&
    digest(leaf.prev) &&
    digest(leaf.chart_prev) &&
    unhex32(leaf.body) !== null &&
    unhex32(leaf.commit) !== null
  );
}

