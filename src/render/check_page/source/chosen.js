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

/**
 * The same of what was dragged here: a folder, what lies in it, or the archive. Throws where a browser does not let
 * a page that was opened from disk look into a dragged folder.
 */
export async function fromDrop(transfer) {
  // Both are gone once anything was waited for.
  const files = [...transfer.files];
  const items = [...transfer.items].filter((item) => item.kind === 'file');
  const entries = items.map((item) => item.webkitGetAsEntry?.()).filter(Boolean);
  const handles = items.map((item) => item.getAsFileSystemHandle?.()).filter(Boolean);
  if (files.length === 1 && !entries.some((entry) => entry.isDirectory)) return { archive: files[0] };
  const dragged = handles.length > 0 ? (await Promise.all(handles)).map(ofHandle) : entries.map(ofEntry);
  const todo = dragged.length === 1 && dragged[0].inside ? await dragged[0].inside() : dragged;
  const found = [];
  while (todo.length > 0) {
    const { name, file, inside } = todo.pop();
    if (file) found.push({ name, file: await file() });
    else for (const one of await inside()) todo.push({ ...one, name: `${name}/${one.name}` });
  }
  return found.length === 0 ? null : { files: inOrder(found) };
}

const inOrder = (files) => files.sort((a, b) => (a.name < b.name ? -1 : 1));

/** What was dragged, in the newer of the two ways in which browsers give it to a page. */
function ofHandle(handle) {
  if (handle.kind === 'file') return { name: handle.name, file: () => handle.getFile() };
  const inside = async () => {
    const all = [];
    for await (const inner of handle.values()) all.push(ofHandle(inner));
    return all;
  };
  return { name: handle.name, inside };
}

/** And in the older one. */
function ofEntry(entry) {
  const { name } = entry;
  if (entry.isFile) return { name, file: () => new Promise((good, bad) => entry.file(good, bad)) };
  const inside = async () => {
    const reader = entry.createReader();
    const all = [];
    for (;;) {
      const some = await new Promise((good, bad) => reader.readEntries(good, bad));
      if (some.length === 0) return all.map(ofEntry);
      all.push(...some);
    }
  };
  return { name, inside };
}

/** True for a file that still has its seal (C2SP age), binary or as text. */
export async function isSealed(file) {
  const begin = utf8(new Uint8Array(await file.slice(0, 512).arrayBuffer()).filter((byte) => byte < 128)).trimStart();
  return begin.startsWith('age-encryption.org/v1') || begin.startsWith('-----BEGIN AGE ENCRYPTED FILE-----');
}

export const bytesOf = (chosen) =>
  chosen.archive ? chosen.archive.size : chosen.files.reduce((sum, { file }) => sum + file.size, 0);
