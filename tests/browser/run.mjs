// Runs the tests in a real browser: all, or those of the files and names given.
//   node tests/browser/run.mjs [FILE|WORDS...]
import { readdirSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";
import { runAll } from "./lib.mjs";

const here = dirname(fileURLToPath(import.meta.url));
const [word] = process.argv.slice(2);
const files = readdirSync(here).filter((name) => name.endsWith(".test.mjs")).sort();
const chosen = files.filter((name) => word && name.startsWith(word));
for (const name of chosen.length ? chosen : files) await import(pathToFileURL(join(here, name)));
const failed = await runAll(chosen.length ? undefined : word, Boolean(word));
process.exit(failed ? 1 : 0);
