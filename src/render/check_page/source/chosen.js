// What was chosen or dropped: the files of a folder, or one archive.
import { text as utf8 } from './bytes.js';

/** An opened package as its files, each with its name in the package, or the archive; null for nothing. */
export function fromInput(list) {
  const files = [...list];
  if (files.length === 0) return null;
  if (files.length === 1 && !files[0].webkitRelativePath) return { archive: files[0] };
  // A browser puts the chosen folder's own name first.
  const named = files.map((file) => ({ name: file.webkitRelativePath.split('/').slice(1).join('/'), file }));
  return { files: inOrder(named) };
}

/** The same of what was dragged here: a folder, what lies in it, or the archive. */
export async function fromDrop(transfer) {
  const entries = [...transfer.items].map((item) => item.webkitGetAsEntry?.()).filter(Boolean);
  if (entries.length === 1 && entries[0].isFile) return { archive: await fileOf(entries[0]) };
  const top = entries.length === 1 ? await inside(entries[0]) : entries;
  const files = [];
  const todo = top.map((entry) => ({ entry, name: entry.name }));
  while (todo.length > 0) {
    const { entry, name } = todo.pop();
    if (entry.isFile) files.push({ name, file: await fileOf(entry) });
    else for (const inner of await inside(entry)) todo.push({ entry: inner, name: `${name}/${inner.name}` });
  }
  return files.length === 0 ? null : { files: inOrder(files) };
}

const inOrder = (files) => files.sort((a, b) => (a.name < b.name ? -1 : 1));
const fileOf = (entry) => new Promise((good, bad) => entry.file(good, bad));

async function inside(folder) {
  const reader = folder.createReader();
  const all = [];
  for (;;) {
    const some = await new Promise((good, bad) => reader.readEntries(good, bad));
    if (some.length === 0) return all;
    all.push(...some);
  }
}

/** True for a file that still has its seal (C2SP age), binary or as text. */
export async function isSealed(file) {
  const begin = utf8(new Uint8Array(await file.slice(0, 512).arrayBuffer()).filter((byte) => byte < 128)).trimStart();
  return begin.startsWith('age-encryption.org/v1') || begin.startsWith('-----BEGIN AGE ENCRYPTED FILE-----');
}

export const bytesOf = (chosen) =>
  chosen.archive ? chosen.archive.size : chosen.files.reduce((sum, { file }) => sum + file.size, 0);
