// Promise: check.html, opened from disk in an ordinary browser, says of every package what inkfast-check says, word
// for word, and asks nothing of anybody. The packages are the example practice's and every one that the tests of the
// checker bend (tests/stranger).
import { spawnSync } from "node:child_process";
import { existsSync, readFileSync, readdirSync } from "node:fs";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { CHECK, INKFAST, ROOT, assert, axeClean, check, fits, folder, inkfast, newPage, picture, practice, targets, test } from "./lib.mjs";

const PAGE = join(ROOT, "src", "render", "check_page", "check.html");
const plain = (text) => text.replace(/\s+/g, " ").trim();

/** The page out of this folder, opened from disk as a person would. */
async function open(from, options) {
  const page = await newPage(options);
  page.asked = [];
  page.on("request", (request) => page.asked.push(request.url()));
  await page.goto(pathToFileURL(from).href);
  return page;
}

/** Nothing was asked for but the page itself, and nothing went wrong in it. */
function quiet(page) {
  assert.deepEqual([...new Set(page.asked)].filter((url) => !url.startsWith("file:")), []);
  assert.equal(new Set(page.asked).size, 1, String(page.asked));
  assert.deepEqual(page.problems, []);
}

async function judge(page, { path, archive }, typed = []) {
  await page.locator(archive ? "#archive" : "#folder").setInputFiles(path);
  const pins = { "--slip": "", "--receipt": "" };
  for (let at = 0; at < typed.length; at += 2) pins[typed[at]] += `${typed[at + 1]}\n`;
  await page.fill("#slip", pins["--slip"]);
  await page.fill("#receipt", pins["--receipt"]);
  await page.click("#check");
  await page.locator("#result:not([hidden]), [aria-invalid=true]").first().waitFor({ timeout: 120_000 });
  return page.evaluate(() => {
    const text = (e) => e?.textContent ?? "";
    const all = (selector) => [...document.querySelectorAll(selector)];
    if (document.querySelector("[aria-invalid=true]")) {
      return { verdict: "mistyped", words: all("[id$=-wrong]").map(text).filter(Boolean).join(" ") };
    }
    const parts = [`${text(document.querySelector("#verdict strong"))}. ${text(document.querySelector("#meaning"))}`];
    for (const part of document.querySelector("#certificate")?.children ?? []) {
      if (part.tagName === "H3" && part.className === "what-was-found") continue;
      if (part.tagName === "DL" || part.tagName === "UL") parts.push(...[...part.children].map((c) => c.tagName === "LI" ? [...c.children].map(text).join(" ") : text(c)));
      else if (part.className.startsWith("found")) parts.push(...[...part.children].map(text));
      else parts.push(text(part));
    }
    return { verdict: text(document.querySelector("#verdict strong")), words: parts.join(" "), ids: all(".found").map((f) => f.dataset.id) };
  });
}

/** What the program says of the same thing. */
function program(path, typed = []) {
  const ran = spawnSync(CHECK, [path, ...typed], { encoding: "utf8", maxBuffer: 1 << 28 });
  return { exit: ran.status, words: plain(ran.stdout), error: plain(ran.stderr) };
}

/** The page and the program agree: the same words where there is a verdict, no verdict where there is none. */
function agree(name, said, wanted) {
  if (wanted.exit === 4) {
    assert.equal(said.verdict, "mistyped", name);
    assert.ok(wanted.error.startsWith(plain(said.words).split(/(?<=\.) /)[0]), `${name}\n${said.words}\n${wanted.error}`);
  } else if (wanted.exit === 2) {
    assert.equal(said.verdict, "NOT CHECKED", `${name}: ${wanted.error}`);
  } else {
    assert.equal(plain(said.words), wanted.words, name);
  }
}

let released;
/** The packages of the example practice, their seals taken off: folders, and an archive of the first. */
function packages() {
  if (released) return released;
  const at = join(practice(), "handed-over");
  const sealed = readdirSync(at).filter((name) => name.endsWith(".age")).sort();
  const opened = sealed.map((name) => {
    const [into, stem] = [join(folder(), "opened"), join(at, name.replace(".age", ""))];
    const key = existsSync(`${stem}.identity.txt`) ? ["--identity", `${stem}.identity.txt`] : ["--passphrase-file", `${stem}.passphrase.txt`];
    inkfast([join(at, name), ...key, "--open-to", into], { program: CHECK });
    return into;
  });
  const archive = join(folder(), "package.tar");
  inkfast(["-d", "-i", join(at, sealed[0].replace(".age", ".identity.txt")), "-o", archive, join(at, sealed[0])], { program: "age" });
  released = { opened, archive, sealed: join(at, sealed[0]) };
  return released;
}

test("check.html in a package is the committed one, and agrees with the program on every package of the example", async () => {
  const { opened, archive } = packages();
  for (const path of opened) {
    assert.deepEqual(readFileSync(join(path, "check.html")), readFileSync(PAGE));
    const page = await open(join(path, "check.html"));
    const said = await judge(page, { path });
    agree(path, said, program(path));
    assert.equal(said.verdict, "SOUND IN ITSELF");
    quiet(page);
    await page.close();
  }
  const page = await open(PAGE);
  agree("the archive", await judge(page, { path: archive, archive: true }), program(archive));
  quiet(page);
});

test("check.html agrees with the program, word for word, on every package that the checker's tests bend", async () => {
  let kept = process.env.INKFAST_BENT;
  if (!kept) {
    kept = folder();
    const ran = spawnSync("cargo", ["test", "--quiet", "--test", "stranger"], { cwd: ROOT, encoding: "utf8", env: { ...process.env, INKFAST_BENT_TO: kept } });
    assert.equal(ran.status, 0, ran.stdout + ran.stderr);
  }
  const names = readdirSync(kept).filter((name) => name.endsWith(".tar")).sort();
  assert.ok(names.length > 100, String(names.length));
  const page = await open(PAGE);
  const seen = new Set();
  for (const name of names) {
    const path = join(kept, name);
    const typed = JSON.parse(readFileSync(path.replace(".tar", ".json"), "utf8"));
    const said = await judge(page, { path, archive: true }, typed);
    agree(name, said, program(path, typed));
    for (const id of said.ids ?? []) seen.add(id);
  }
  // The tests bend in enough ways for this to mean something.
  for (const id of ["member-changed", "record-changed", "signature-wrong", "signer-not-listed", "proof-broken", "chart-link-broken",
    "chart-number-broken", "release-missing", "other-chart", "attachment-changed", "attachment-missing", "manifest-signature",
    "member-not-listed", "member-name", "rewritten-outside-copy", "outside-not-comparable", "clock-went-back"]) {
    assert.ok(seen.has(id), id);
  }
  quiet(page);
});
