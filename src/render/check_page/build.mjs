// Builds check.html: one file with everything in it. Called by scripts/build-check-page.
//   node build.mjs OUT                     the page
//   node build.mjs --module reads.js OUT   one of its modules with what it needs, for the tests
import { createHash } from 'node:crypto';
import { readFileSync, readdirSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { build } from 'esbuild';
import { TEXTS } from './source/texts.js';

const here = (path) => fileURLToPath(new URL(path, import.meta.url));
const schemas = here('../../../schema/');

// The published schemas, without the words in them: what a record's data must look like, by kind and edition.
const PATTERNS = { '^[a-z0-9-]+$': 'word' };
const DROPPED = new Set(['$schema', '$id', '$defs', 'title', 'description', 'examples', 'default', 'minimum', 'maximum']);

/** Names of parts (`$defs`) that differ between files are told apart by the file's name. */
function collect(file, defs) {
  const whole = JSON.parse(readFileSync(schemas + file, 'utf8'));
  const moment = /T\(\[01\]\[0-9\]/;
  const renamed = new Map();
  const bare = (schema) => {
    if (typeof schema !== 'object' || schema === null) return schema;
    const out = {};
    for (const [key, value] of Object.entries(schema)) {
      if (key === '$ref') out.$ref = renamed.get(value.replace('#/$defs/', ''));
      else if (key === 'properties') out.properties = Object.fromEntries(Object.entries(value).map(([n, s]) => [n, bare(s)]));
      else if (key === 'anyOf') out.anyOf = value.map(bare);
      else if (key === 'oneOf') out.enum = value.map((one) => one.const);
      else if (key === 'items' || key === 'additionalProperties') out[key] = bare(value);
      else if (key === 'pattern') {
        const known = PATTERNS[value] ?? (moment.test(value) ? 'moment' : value.startsWith('^[0-9]{4}') ? 'day' : null);
        if (known) out.pattern = known;
      } else if (['type', 'required', 'enum', 'format', 'const'].includes(key)) out[key] = value;
      else if (!DROPPED.has(key)) throw new Error(`${file}: the page does not know the schema word ${key}`);
    }
    return Object.keys(out).length === 0 ? true : out;
  };
  const parts = Object.entries(whole.$defs ?? {});
  for (const [name] of parts) renamed.set(name, name);
  for (let again = true; again; ) {
    again = false;
    for (const [name, schema] of parts) {
      const to = renamed.get(name);
      const made = JSON.stringify(bare(schema));
      if (defs.has(to) && JSON.stringify(defs.get(to)) !== made && to === name) {
        renamed.set(name, `${name}/${file.replace('.schema.json', '')}`);
        again = true;
      }
    }
  }
  for (const [name, schema] of parts) defs.set(renamed.get(name), bare(schema));
  return bare(whole);
}

function layouts() {
  const defs = new Map();
  const kinds = {};
  for (const file of readdirSync(schemas).sort()) {
    const [, kind, edition] = /^record-(.+)-(\d+)\.schema\.json$/.exec(file) ?? [];
    if (kind) kinds[`${kind}/${edition}`] = collect(file, defs);
  }
  const record = collect('record.schema.json', defs);
  const manifest = collect('package-manifest.schema.json', defs);
  return { record, manifest, kinds, defs: Object.fromEntries(defs) };
}

const layoutsOfSchemas = {
  name: 'layouts',
  setup(made) {
    made.onResolve({ filter: /^layouts$/ }, () => ({ path: 'layouts', namespace: 'layouts' }));
    made.onLoad({ filter: /.*/, namespace: 'layouts' }, () => ({ contents: JSON.stringify(layouts()), loader: 'json' }));
  },
};

const common = { bundle: true, write: false, minify: true, target: 'es2022', charset: 'ascii', legalComments: 'none' };
if (process.argv[2] === '--module') {
  const [, , , entry, out] = process.argv;
  const made = await build({ ...common, entryPoints: [here(`source/${entry}`)], format: 'esm', plugins: [layoutsOfSchemas] });
  writeFileSync(out, made.outputFiles[0].text);
  process.exit(0);
}
const script = await build({ ...common, entryPoints: [here('source/page.js')], format: 'iife', plugins: [layoutsOfSchemas] });
const style = await build({ ...common, entryPoints: [here('source/page.css')], charset: 'utf8' });
const [js, css] = [script, style].map((made) => made.outputFiles[0].text.trim());
const sha = (text) => `'sha256-${createHash('sha256').update(text).digest('base64')}'`;
// Nothing is fetched and nothing sent: every kind of source but these two texts is refused by the browser.
const policy = `default-src 'none'; script-src ${sha(js)}; style-src ${sha(css)}; base-uri 'none'; form-action 'none'`;
const escape = (text) => text.replace(/[&<>]/g, (c) => ({ '&': '&amp;', '<': '&lt;', '>': '&gt;' })[c]);
const gaps = { policy, style: css, script: js };
const page = readFileSync(here('source/page.html'), 'utf8').replace(/\{\{(t:)?([a-z_]+)\}\}/g, (_, isText, name) => {
  const value = isText ? TEXTS.en[name] : gaps[name];
  if (value === undefined) throw new Error(`nothing is known of {{${name}}}`);
  return isText ? escape(value) : value;
});
for (const [language, words] of Object.entries(TEXTS)) {
  const missing = Object.keys(TEXTS.en).filter((name) => words[name] === undefined);
  if (missing.length) throw new Error(`${language} lacks ${missing.join(', ')}`);
}
writeFileSync(process.argv[2], page);
