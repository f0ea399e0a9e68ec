// The page itself: what is chosen, typed and pressed, and where the result stands.
import { certificate } from './certificate.js';
import { bytesOf, fromDrop, fromInput, isSealed } from './chosen.js';
import { digests } from './digest.js';
import { browserCan } from './ed25519.js';
import { fromArchive, fromFolder } from './members.js';
import { checkPackage } from './package.js';
import { readPins } from './pin.js';
import { certificateOn, element, notChecked } from './result.js';
import { Trouble } from './said.js';
import { hex } from './bytes.js';
import { TEXTS } from './texts.js';

const at = (id) => document.getElementById(id);
let language = navigator.language?.startsWith('es') ? 'es' : 'en';
/** What was chosen, and the last result as a function of the language. */
let chosen = null;
let show = null;
/** Counts checks: one that was stopped finds another number when it goes on, and ends. */
let running = 0;

class Stopped extends Error {}

function text(name, gaps = {}) {
  return TEXTS[language][name].replace(/\{([a-z]+)\}/g, (_, gap) => String(gaps[gap] ?? ''));
}

/** Sets a text that is kept up when the language changes. */
function put(place, name, gaps) {
  place.dataset.text = name;
  place.textContent = name ? text(name, gaps) : '';
  place.told = gaps;
}

function speak(to) {
  language = to;
  document.documentElement.lang = to;
  document.title = text('title');
  for (const place of document.querySelectorAll('[data-text]')) {
    if (place.dataset.text) place.textContent = text(place.dataset.text, place.told);
  }
  for (const button of at('languages').children) button.ariaPressed = String(button.lang === to);
  show?.();
}

function size(bytes) {
  const steps = [['GB', 1e9], ['MB', 1e6], ['kB', 1e3]];
  const [unit, step] = steps.find(([, least]) => bytes >= least) ?? ['B', 1];
  const digits = step === 1 ? 0 : 1;
  const written = new Intl.NumberFormat(language, { maximumFractionDigits: digits }).format(bytes / step);
  return `${written} ${unit}`;
}

/** Takes an earlier result away, so that it never stands beside something it is not of. */
function clear() {
  show = null;
  at('result').hidden = true;
  at('result').replaceChildren();
  put(at('state'), '');
}

function choose(what) {
  clear();
  chosen = what;
  if (what === null) put(at('chosen'), 'nothing_chosen');
  else if (what.archive) put(at('chosen'), 'chosen_archive', { name: what.archive.name, size: size(bytesOf(what)) });
  else put(at('chosen'), 'chosen_folder', { files: what.files.length, size: size(bytesOf(what)) });
}

/** What was typed; null where it was mistyped, and then it is said beside it. */
function pins() {
  const all = [];
  let first = null;
  for (const [id, what] of [['slip', 'SLIP'], ['receipt', 'RECEIPT']]) {
    const [field, wrong] = [at(id), at(`${id}-wrong`)];
    wrong.replaceChildren();
    field.removeAttribute('aria-invalid');
    try {
      all.push(...readPins(what, field.value));
    } catch (trouble) {
      if (!(trouble instanceof Trouble)) throw trouble;
      wrong.append(element('span', { lang: 'en' }, `${trouble.what} ${trouble.next}`));
      if (trouble.otherKind) wrong.replaceChildren(element('span', { lang: 'en' }, trouble.what), ` ${text('other_field')}`);
      field.setAttribute('aria-invalid', 'true');
      first ??= field;
    }
  }
  first?.focus();
  return first === null ? all : null;
}

async function check(event) {
  event.preventDefault();
  clear();
  const typed = pins();
  if (typed === null) return;
  if (chosen === null) {
    put(at('state'), 'choose_first');
    at('folder').focus();
    return;
  }
  running += 1;
  const mine = running;
  const what = chosen;
  busy(true);
  try {
    const page = await run(what, typed, progressOf(what, mine));
    put(at('state'), 'done');
    // When it was checked is part of the result, and does not change with the language.
    const when = new Date();
    shows((parts, actions) => {
      const [verdict, ...rest] = certificateOn(page, text);
      parts.push(verdict, checkedAt(when), actions, ...rest, ...notChecked(text, left(what)));
    });
  } catch (error) {
    if (error instanceof Stopped) return;
    put(at('state'), 'not_done');
    shows((parts, actions) => parts.push(couldNot(error), actions));
    if (!(error instanceof Trouble) && !(error instanceof Refused)) console.error(error);
  } finally {
    if (mine === running) busy(false);
  }
}

/** Something the page itself has words for. */
class Refused extends Error {
  constructor(name) {
    super(name);
    this.name_ = name;
  }
}

async function run(what, typed, progress) {
  if (!(await browserCan())) throw new Refused('no_signatures');
  if (what.files?.some(({ name }) => name === '')) throw new Refused('not_files');
  if (what.archive && (await isSealed(what.archive))) throw new Refused('still_sealed');
  const members = await (what.archive ? fromArchive(what.archive, progress) : fromFolder(what.files, progress));
  let file = null;
  if (what.archive) {
    const whole = await digests(what.archive, progress);
    file = { bytes: whole.size, blake3: hex(whole.blake3), sha256: hex(whole.sha256) };
  }
  put(at('state'), 'checking');
  return certificate(await checkPackage(members, typed), file);
}

function progressOf(what, mine) {
  // An archive is read twice: part by part, and as a whole.
  const all = bytesOf(what) * (what.archive ? 2 : 1);
  const bar = element('progress', { max: '1000', value: '0', 'aria-labelledby': 'state' });
  at('state').before(bar);
  let [done, told] = [0, -1];
  return (bytes) => {
    if (mine !== running) {
      bar.remove();
      throw new Stopped();
    }
    done += bytes;
    const promille = all === 0 ? 1000 : Math.min(1000, Math.floor((done * 1000) / all));
    bar.value = promille;
    // Read out by a screen reader, so in tenths and not in thousandths.
    if (Math.floor(promille / 100) === told) return;
    told = Math.floor(promille / 100);
    put(at('state'), 'reading', { done: size(Math.min(done, all)), all: size(all) });
  };
}

function busy(is) {
  at('stop').hidden = !is;
  at('check').disabled = is;
  document.querySelectorAll('progress').forEach((bar) => !is && bar.remove());
}

function shows(fill) {
  show = () => {
    const parts = [element('h2', { id: 'result-title', tabindex: '-1' }, text('result'))];
    const print = element('button', { type: 'button' }, text('print'));
    print.onclick = () => window.print();
    fill(parts, element('p', { class: 'actions' }, print));
    at('result').replaceChildren(...parts);
    at('result').hidden = false;
  };
  show();
  at('result-title').focus();
}

function checkedAt(when) {
  const spelt = new Intl.DateTimeFormat(language, { dateStyle: 'long', timeStyle: 'long' }).format(when);
  return element('p', { class: 'checked' }, text('checked_at', { when: spelt }));
}

const left = (what) => ['not_page', 'not_seal', 'not_others', ...(what.files ? ['not_links'] : [])];

/** What stands in the place of a result where nothing could be checked. */
function couldNot(error) {
  const box = element('div', { class: 'verdict none', id: 'verdict' }, element('strong', {}, text('could_not')));
  const say = (words, lang = language) => box.append(element('p', { lang }, words));
  say(text('could_not_means'));
  if (error instanceof Trouble) {
    say(error.what, 'en');
    if (error.safe) say(text('safe', { words: error.safe }), 'en');
    say(text('next', { words: error.next }), 'en');
  } else if (error instanceof Refused) {
    say(text(error.name_));
    say(text(error.name_ === 'no_signatures' ? 'no_signatures_means' : `${error.name_}_next`));
  } else {
    say(text('broken', { why: String(error?.message ?? error) }));
    say(text('broken_next'));
  }
  return box;
}

for (const [name, words] of Object.entries(TEXTS)) {
  const button = element('button', { type: 'button', lang: name }, words.language);
  button.onclick = () => speak(name);
  at('languages').append(button);
}
at('folder').onchange = () => {
  at('archive').value = '';
  choose(fromInput(at('folder').files));
};
at('archive').onchange = () => {
  at('folder').value = '';
  choose(fromInput(at('archive').files));
};
at('form').onsubmit = check;
for (const id of ['slip', 'receipt']) at(id).oninput = clear;
at('stop').onclick = () => {
  running += 1;
  busy(false);
  put(at('state'), 'stopped');
  at('check').focus();
};
for (const kind of ['dragenter', 'dragover']) {
  document.addEventListener(kind, (event) => {
    event.preventDefault();
    document.body.classList.add('over');
  });
}
document.addEventListener('dragleave', (event) => {
  if (event.relatedTarget === null) document.body.classList.remove('over');
});
document.addEventListener('drop', async (event) => {
  event.preventDefault();
  document.body.classList.remove('over');
  at('folder').value = '';
  at('archive').value = '';
  try {
    choose(await fromDrop(event.dataTransfer));
  } catch {
    choose(null);
    put(at('state'), 'not_dragged');
  }
});
speak(language);
browserCan().then((can) => {
  if (can) return;
  at('cannot').append(element('strong', { 'data-text': 'no_signatures' }), ' ', element('span', { 'data-text': 'no_signatures_means' }));
  speak(language);
});
