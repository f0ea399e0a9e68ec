// What the tests hold against the program without a page around it (tests/browser/check_page.test.mjs).
export { readJson } from './json.js';
export { fitsKind, fitsManifest, fitsRecord } from './layout.js';
