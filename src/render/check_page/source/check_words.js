// Check words: a number and 100 bits as twelve words (src/verify/check_words.rs). A Reed-Solomon code over GF(2^10)
// with two check symbols (field polynomial x^10 + x^3 + 1, roots 1 and x).
import { CHECK_WORDS } from './said.js';

const CARRYING = 10;
export const WORDS = 12;
const POLYNOMIAL = 0x409;
const DIGITS = 20;
const SYMBOLS = 1 + DIGITS + WORDS;
const PLACE_OF = new Map(CHECK_WORDS.map((word, at) => [word, at]));

/**
 * Reads twelve words typed with their number: `bits`, ten numbers of ten bits, or `wrong`, the likeliest mistake.
 * `symbol` is 1 for a slip, 2 for a receipt.
 */
export function readWords(symbol, number, typed) {
  if (typed.length !== WORDS) return { wrong: { is: 'count', count: typed.length } };
  const values = typed.map((word) => PLACE_OF.get(asciiLower(word)) ?? null);
  const symbols = [symbol, ...digitsOf(number), ...values.map((value) => value ?? 0)];
  const at = values.indexOf(null);
  if (at >= 0) {
    const alone = values.filter((value) => value === null).length === 1;
    const fitting = alone ? missing(symbols, at) : null;
    const likely = fitting !== null ? CHECK_WORDS[fitting] : nearest(typed[at]);
    return { wrong: { is: 'unknown', place: at + 1, typed: typed[at], likely } };
  }
  if (!holds(symbols)) return { wrong: diagnose(symbols) };
  return { bits: symbols.slice(1 + DIGITS, 1 + DIGITS + CARRYING) };
}

const asciiLower = (word) => word.replace(/[A-Z]/g, (c) => c.toLowerCase());
const digitsOf = (number) => Array.from(String(number).padStart(DIGITS, '0'), Number);
/** The number that the digits stand for; null where it is longer than 64 bits. */
function numberOf(symbols) {
  const number = BigInt(symbols.slice(1, 1 + DIGITS).join(''));
  return number < 1n << 64n ? number : null;
}

/** The plain sum of all symbols, and the sum weighted with x to the power of each place. */
function sums(symbols) {
  const plain = symbols.reduce((sum, s) => sum ^ s, 0);
  const weighted = symbols.reduce((sum, s, at) => sum ^ times(power(at), s), 0);
  return [plain, weighted];
}

const holds = (symbols) => sums(symbols).every((sum) => sum === 0);

/** The value that the word at `at`, unread, must have for all others to be right. */
function missing(symbols, at) {
  const [sum, weighted] = sums(symbols);
  return weighted === times(power(SYMBOLS - WORDS + at), sum) ? sum : null;
}

/** The likeliest mistake: two neighbours swapped, or one wrong symbol. */
function diagnose(symbols) {
  for (let at = 1; at < SYMBOLS - 1; at += 1) {
    const swapped = symbols.slice();
    [swapped[at], swapped[at + 1]] = [swapped[at + 1], swapped[at]];
    if (at === DIGITS || !holds(swapped)) continue;
    return at > DIGITS ? { is: 'swapped', place: at - DIGITS } : { is: 'number', likely: numberOf(swapped) };
  }
  const [sum, weighted] = sums(symbols);
  const at = sum === 0 ? -1 : symbols.findIndex((_, place) => times(power(place), sum) === weighted);
  if (at < 1) return { is: 'several' };
  const right = symbols.slice();
  right[at] ^= sum;
  if (at > DIGITS) return { is: 'wrong', place: at - DIGITS, likely: CHECK_WORDS[right[at]] };
  return right[at] > 9 ? { is: 'several' } : { is: 'number', likely: numberOf(right) };
}

/** The word of the list that fewer than three changes of a letter make of what was typed. */
function nearest(typed) {
  let best = [3, null];
  for (const word of CHECK_WORDS) {
    const count = changes(asciiLower(typed), word);
    if (count < best[0]) best = [count, word];
  }
  return best[1];
}

/** A letter more, less or another, or two neighbours swapped (the optimal string alignment distance). */
function changes(typed, word) {
  const [a, b] = [Array.from(typed).slice(0, 40), Array.from(word)];
  const rows = Array.from({ length: a.length + 1 }, (_, i) => [i, ...Array(b.length).fill(0)]);
  rows[0] = Array.from({ length: b.length + 1 }, (_, j) => j);
  for (let i = 1; i <= a.length; i += 1) {
    for (let j = 1; j <= b.length; j += 1) {
      const same = a[i - 1] === b[j - 1] ? 0 : 1;
      let least = Math.min(rows[i - 1][j] + 1, rows[i][j - 1] + 1, rows[i - 1][j - 1] + same);
      if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1]) {
        least = Math.min(least, rows[i - 2][j - 2] + 1);
      }
      rows[i][j] = least;
    }
  }
  return rows[a.length][b.length];
}

/** The product in GF(2^10). */
function times(a, b) {
  let [left, product] = [a, 0];
  for (let right = b; right > 0; right >>= 1) {
    if (right & 1) product ^= left;
    left <<= 1;
    if (left >> 10 === 1) left ^= POLYNOMIAL;
  }
  return product;
}

/** x to this power. */
function power(exponent) {
  let product = 1;
  for (let i = 0; i < exponent; i += 1) product = times(product, 2);
  return product;
}
