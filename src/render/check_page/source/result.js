// The result on the page. Everything is put in as text, so what came with a package is never read as markup; and no
// character of it moves or turns what stands around it.
import { placeWords } from './certificate.js';
import { say } from './said.js';

// eslint-disable-next-line no-control-regex
const TURNS = /[\u0000-\u0008\u000b-\u001f\u007f-\u009f\u202a-\u202e\u2066-\u2069]/g;
const harmless = (text) =>
  text.replace(TURNS, (c) => `<U+${c.codePointAt(0).toString(16).toUpperCase().padStart(4, '0')}>`);

/** An element with attributes and children; texts are put in as texts. */
export function element(name, attributes = {}, ...children) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.append(...children.map((child) => (typeof child === 'string' ? harmless(child) : child)));
  return made;
}

const MARKS = { YES: 'yes', NO: 'no', PLAIN: 'plain' };

/** The certificate, in the program's own words and language. */
export function certificateOn(page, text) {
  const word = { YES: 'YES', NO: 'NO', PLAIN: 'PLAIN' };
  const line = ([mark, words]) =>
    element(
      'li',
      { class: 'said' },
      element('span', { class: `mark ${MARKS[mark]}` }, say(word[mark])),
      element('span', { class: 'words' }, words),
    );
  const list = (lines) => element('ul', {}, ...lines.map(line));
  const gloss = page.sound ? (page.verdict === say('SOUND') ? 'verdict_sound' : 'verdict_itself') : 'verdict_not';
  const verdict = element(
    'div',
    { class: page.sound ? 'verdict' : 'verdict no', id: 'verdict' },
    element('strong', { lang: 'en' }, page.verdict),
    element('p', { lang: 'en', id: 'meaning' }, page.meaning),
  );
  if (text(gloss)) verdict.append(element('p', { class: 'gloss' }, text(gloss)));
  const body = element('div', { lang: 'en', id: 'certificate' });
  const facts = element('dl', { id: 'facts' });
  for (const [name, value] of page.facts) facts.append(element('dt', {}, name), element('dd', {}, value));
  body.append(facts);
  for (const { title, lines } of page.sections) body.append(element('h3', { class: 'section' }, title), list(lines));
  body.append(...findings(page));
  body.append(element('h3', { class: 'limits' }, say('LIMITS')));
  const limits = list(page.limits.map((words) => ['PLAIN', words]));
  limits.id = 'limits';
  body.append(limits);
  return [verdict, body];
}

function findings({ findings: found, more }) {
  if (found.length === 0) return [];
  const all = [element('h3', { class: 'what-was-found' }, say('WHAT_WAS_FOUND'))];
  for (const { id, severity, where, what, still_provable: still, next } of found) {
    const at = say(severity === 'wrong' ? 'WRONG_AT' : 'NOTE_AT', { id, place: placeWords(where) });
    all.push(
      element(
        'div',
        { class: `found ${severity}`, 'data-id': id },
        element('p', { class: 'at' }, at),
        element('p', {}, what),
        element('p', {}, say('STILL_PROVEN', { words: still })),
        element('p', {}, say('NEXT', { words: next })),
      ),
    );
  }
  if (more > 0) all.push(element('p', { class: 'more' }, say('AND_MORE', { count: more })));
  return all;
}

/** What was not checked here, in the page's own words. */
export function notChecked(text, names) {
  const items = names.map((name) =>
    element('li', {}, element('span', { class: 'mark plain' }, say('PLAIN')), element('span', {}, text(name))),
  );
  return [element('h3', {}, text('not_checked')), element('ul', { id: 'not-checked' }, ...items)];
}
