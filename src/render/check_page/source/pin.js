// What a slip or a receipt pins down, as it is typed: NUMBER:CODE, the number and twelve words, or the text of its QR
// code (src/verify/pin.rs).
import { BASE32 } from './bytes.js';
import { readWords } from './check_words.js';
import { Trouble, say } from './said.js';

const LETTERS = 20;
const ALPHABET = '0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*';
const SYMBOL = { SLIP: 1, RECEIPT: 2 };
const other = (what) => (what === 'SLIP' ? 'RECEIPT' : 'SLIP');

const mistyped = (what, next) => new Trouble(what, '', next);

function otherKind(what) {
  const gaps = { other: say(other(what)), what: say(what) };
  const trouble = mistyped(say('PIN_OTHER_KIND', gaps), say('PIN_OTHER_KIND_NEXT', gaps));
  // The program's next step names a flag; the page has a field for it.
  trouble.otherKind = true;
  return trouble;
}

/** Reads what was typed; throws a Trouble that says what is likely wrong. `what` is `SLIP` or `RECEIPT`. */
function readPin(what, typed) {
  const parts = typed.split(/[\s\u0085:,;.]/u).filter((part) => part !== '');
  const isWord = (part, word) => part?.toLowerCase() === word;
  if (isWord(parts[0], 'inkfast')) parts.shift();
  for (const said of ['SLIP', 'RECEIPT']) {
    if (!isWord(parts[0], say(said))) continue;
    parts.shift();
    if (said !== what) throw otherKind(what);
  }
  const ledger = /^ledger-/i.test(parts.at(-1) ?? '') ? parts.pop().toLowerCase() : null;
  const number = readNumber(parts.shift());
  if (number === null || parts.length === 0) {
    throw mistyped(say('PIN_FORM', { what: say(what) }), say('PIN_FORM_NEXT'));
  }
  const words = parts.flatMap((part) => part.split('-')).filter((part) => part !== '');
  const signs = words.reduce((sum, word) => sum + Array.from(word).length, 0);
  const long = signs > LETTERS + 4 || words.filter((word) => word.length > 4).length > 1;
  const letters = long ? fromWords(what, number, words) : fromCode(what, number, words.join(''));
  return { what, number, letters, ledger };
}

/** Several, each on a line that begins with its number or with what it is; words may run over several lines. */
export function readPins(what, typed) {
  const each = typed.trim().split(/\n(?=\s*(?:\d|inkfast\b|slip\b|receipt\b))/i);
  return typed.trim() === '' ? [] : each.map((one) => readPin(what, one));
}

function readNumber(text) {
  if (!/^\+?[0-9]+$/.test(text ?? '')) return null;
  const number = BigInt(text.replace('+', ''));
  return number < 1n << 64n ? number : null;
}

/** The check character of ISO/IEC 7064 MOD 37-2. */
function checkLetter(letters) {
  const sum = Array.from(letters).reduce((p, c) => ((p + ALPHABET.indexOf(c)) * 2) % 37, 0);
  return ALPHABET[(38 - sum) % 37];
}

const secondLetter = (what, number, letters) => checkLetter(`${what === 'SLIP' ? 'S' : 'R'}${number}${letters}`);

function fromCode(what, number, typed) {
  const signs = Array.from(typed, (sign) => (/[a-z]/.test(sign) ? sign.toUpperCase() : sign));
  const [letters, checks] = [signs.slice(0, LETTERS).join(''), signs.slice(LETTERS)];
  const inAlphabet = signs.slice(0, LETTERS).every((sign) => BASE32.includes(sign));
  const right = signs.length > LETTERS && inAlphabet && checks[0] === checkLetter(letters) && checks.length <= 2;
  if (!right) throw mistyped(say('PIN_CODE', { what: say(what) }), say('PIN_CODE_NEXT'));
  if (checks.length === 1) {
    if (what === 'SLIP') return letters;
    throw mistyped(say('PIN_LAST'), say('PIN_LAST_NEXT'));
  }
  if (checks[1] === secondLetter(what, number, letters)) return letters;
  if (checks[1] === secondLetter(other(what), number, letters)) throw otherKind(what);
  throw mistyped(say('PIN_SECOND', { number }), say('PIN_SECOND_NEXT'));
}

function fromWords(what, number, typed) {
  const { bits, wrong } = readWords(SYMBOL[what], number, typed);
  if (bits) return bits.map((ten) => BASE32[ten >> 5] + BASE32[ten & 31]).join('');
  if (readWords(SYMBOL[other(what)], number, typed).bits) throw otherKind(what);
  throw inWords(wrong, number);
}

/** What is likely wrong, for the person with the paper. */
function inWords(wrong, number) {
  const { is, place, likely } = wrong;
  const next = (name) => say(name, { likely });
  switch (is) {
    case 'count':
      return mistyped(say('PIN_COUNT', { count: wrong.count, number }), say('PIN_COUNT_NEXT'));
    case 'unknown': {
      const gaps = { place, typed: JSON.stringify(wrong.typed), likely };
      return likely === null
        ? mistyped(say('PIN_UNKNOWN', gaps), say('PIN_UNKNOWN_NEXT'))
        : mistyped(say('PIN_UNKNOWN_LIKELY', gaps), next('PIN_LIKELY_NEXT'));
    }
    case 'wrong':
      return mistyped(say('PIN_WRONG', { place, likely }), next('PIN_LIKELY_NEXT'));
    case 'swapped':
      return mistyped(say('PIN_SWAPPED', { place, after: place + 1 }), say('PIN_SWAPPED_NEXT'));
    case 'number':
      if (likely !== null) return mistyped(say('PIN_NUMBER', { number, likely }), next('PIN_NUMBER_NEXT'));
    // falls through
    default:
      return mistyped(say('PIN_SEVERAL'), say('PIN_SEVERAL_NEXT'));
  }
}
