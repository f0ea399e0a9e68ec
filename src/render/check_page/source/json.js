// JSON, read as strictly as the program reads it (RFC 8259; serde_json): nothing behind the value, no deeper than 127
// levels, whole numbers kept whole, no half of a surrogate pair. A browser's own reader gives up none of these.

const DEEPEST = 127;
const SPACE = /[ \t\n\r]*/y;
const NUMBER = /-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?/y;
const PLAIN = /[^"\\\u0000-\u001f]*/y;
const ESCAPES = { '"': '"', '\\': '\\', '/': '/', b: '\b', f: '\f', n: '\n', r: '\r', t: '\t' };
const WORDS = [['true', true], ['false', false], ['null', null]];

/** Objects that name a field twice. */
export const doubled = new WeakSet();

/** The value of a text; undefined where it is no JSON. Objects have no prototype; whole numbers are BigInt. */
export function readJson(text) {
  const reader = new Reader(text);
  try {
    const value = reader.value(0);
    reader.space();
    return reader.at === text.length ? value : undefined;
  } catch (error) {
    if (error instanceof NotJson) return undefined;
    throw error;
  }
}

export const isObject = (value) => typeof value === 'object' && value !== null && !Array.isArray(value);

class NotJson extends Error {}

class Reader {
  constructor(text) {
    this.text = text;
    this.at = 0;
  }

  match(pattern) {
    pattern.lastIndex = this.at;
    const found = pattern.exec(this.text);
    if (!found) throw new NotJson();
    this.at = pattern.lastIndex;
    return found[0];
  }

  space() {
    this.match(SPACE);
  }

  take(sign) {
    if (this.text[this.at] !== sign) return false;
    this.at += 1;
    return true;
  }

  need(sign) {
    if (!this.take(sign)) throw new NotJson();
  }

  value(depth) {
    this.space();
    if (depth > DEEPEST) throw new NotJson();
    const sign = this.text[this.at];
    if (sign === '{') return this.object(depth);
    if (sign === '[') return this.array(depth);
    if (sign === '"') return this.string();
    for (const [word, value] of WORDS) {
      if (this.text.startsWith(word, this.at)) {
        this.at += word.length;
        return value;
      }
    }
    return this.number();
  }

  number() {
    const digits = this.match(NUMBER);
    if (/^-?[0-9]+$/.test(digits) && digits !== '-0' && digits.length <= 20) {
      const whole = BigInt(digits);
      if (whole >= -(1n << 63n) && whole < 1n << 64n) return whole;
    }
    const number = Number(digits);
    if (!Number.isFinite(number)) throw new NotJson();
    return number;
  }

  string() {
    this.need('"');
    let out = '';
    for (;;) {
      out += this.match(PLAIN);
      if (this.take('"')) return out;
      this.need('\\');
      const sign = this.text[this.at];
      this.at += 1;
      if (sign !== 'u') {
        if (!Object.hasOwn(ESCAPES, sign ?? '')) throw new NotJson();
        out += ESCAPES[sign];
        continue;
      }
      const first = this.four();
      if (first >= 0xdc00 && first <= 0xdfff) throw new NotJson();
      out += String.fromCharCode(first);
      if (first >= 0xd800 && first <= 0xdbff) {
        this.need('\\');
        this.need('u');
        const second = this.four();
        if (second < 0xdc00 || second > 0xdfff) throw new NotJson();
        out += String.fromCharCode(second);
      }
    }
  }

  four() {
    return parseInt(this.match(/[0-9a-fA-F]{4}/y), 16);
  }

  array(depth) {
    this.need('[');
    const items = [];
    this.space();
    if (this.take(']')) return this.within(depth, items);
    do {
      items.push(this.value(depth + 1));
      this.space();
    } while (this.take(','));
    this.need(']');
    return this.within(depth, items);
  }

  object(depth) {
    this.need('{');
    const object = Object.create(null);
    this.space();
    if (this.take('}')) return this.within(depth, object);
    do {
      this.space();
      const name = this.string();
      this.space();
      this.need(':');
      if (name in object) doubled.add(object);
      object[name] = this.value(depth + 1);
      this.space();
    } while (this.take(','));
    this.need('}');
    return this.within(depth, object);
  }

  /** A group at the deepest level is one too deep, even an empty one. */
  within(depth, group) {
    if (depth >= DEEPEST) throw new NotJson();
    return group;
  }
}
