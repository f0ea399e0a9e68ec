// Whether a value read from JSON has its layout: the published schemas in schema/, without their words
// (scripts/build-check-page takes them in). As strict as the program: no other field, none twice, whole numbers whole.
import layouts from 'layouts';
import { doubled, isObject } from './json.js';
import { readDay, readMoment } from './moment.js';
import { KINDS } from './said.js';

const WHOLE = {
  uint8: [0n, (1n << 8n) - 1n],
  uint16: [0n, (1n << 16n) - 1n],
  uint32: [0n, (1n << 32n) - 1n],
  uint64: [0n, (1n << 64n) - 1n],
  int32: [-(1n << 31n), (1n << 31n) - 1n],
  int64: [-(1n << 63n), (1n << 63n) - 1n],
};

/** What a pattern in a schema stands for. Others are told to readers and not asked of writers. */
const PATTERNS = {
  moment: (text) => readMoment(text) !== null,
  day: (text) => readDay(text) !== null,
  word: (text) => /^[a-z0-9-]+$/.test(text),
};

export const fitsManifest = (value) => fits(layouts.manifest, value, true);
export const fitsRecord = (value) => fits(layouts.record, value, true);

/** Whether a record's data has the layout of its kind and edition; null for a kind or edition not known here. */
export function fitsKind({ kind, edition, data }) {
  if (edition === 0n) return false;
  const newest = KINDS.get(kind);
  if (newest === undefined || edition > BigInt(newest)) return null;
  return fits(layouts.kinds[`${kind}/${edition}`], data, false);
}

function fits(layout, value, once) {
  if (layout === true) return true;
  if (layout.$ref) return fits(layouts.defs[layout.$ref], value, once);
  if (layout.anyOf) return layout.anyOf.some((branch) => fits(branch, value, once));
  if (layout.enum) return typeof value === 'string' && layout.enum.includes(value);
  // The program takes an empty list for a group of fields of which it needs none (serde reads a group from a list of
  // its values too; nothing writes it so, and a list with values in it is not taken here).
  const isGroup = layout.additionalProperties === false && !layout.required?.length;
  if (isGroup && Array.isArray(value) && value.length === 0) return true;
  if (layout.type !== undefined) {
    const types = Array.isArray(layout.type) ? layout.type : [layout.type];
    if (!types.some((type) => isOfType(layout, type, value))) return false;
  }
  if (Array.isArray(value)) {
    return layout.items === undefined || value.every((item) => fits(layout.items, item, once));
  }
  if (typeof value === 'string') return layout.pattern === undefined || PATTERNS[layout.pattern](value);
  return !isObject(value) || fieldsFit(layout, value, once);
}

function fieldsFit(layout, object, once) {
  if (once && doubled.has(object)) return false;
  if (layout.required?.some((name) => !(name in object))) return false;
  const fields = layout.properties ?? {};
  return Object.keys(object).every((name) => {
    if (Object.hasOwn(fields, name)) return fits(fields[name], object[name], once);
    const rest = layout.additionalProperties;
    return rest === undefined || (rest !== false && fits(rest, object[name], once));
  });
}

function isOfType(layout, type, value) {
  switch (type) {
    case 'object':
      return isObject(value);
    case 'array':
      return Array.isArray(value);
    case 'null':
      return value === null;
    case 'number':
      return typeof value === 'number' || typeof value === 'bigint';
    case 'integer': {
      if (typeof value !== 'bigint') return false;
      const [least, most] = WHOLE[layout.format] ?? WHOLE.int64;
      return value >= least && value <= most;
    }
    default:
      return typeof value === type;
  }
}
