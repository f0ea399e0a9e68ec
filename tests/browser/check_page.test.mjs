// Promise: check.html, opened from disk in an ordinary browser, says of every package what inkfast-check says, word
// for word, and asks nothing of anybody. The packages are the example practice's and every one that the tests in Rust
// bend (tests/stranger, handing_over.rs, packages.rs).
import { spawnSync } from "node:child_process";
import { cpSync, existsSync, mkdirSync, readFileSync, readdirSync, truncateSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { CHECK, ROOT, assert, check, folder, inkfast, newPage, picture, practice, targets, test, longTest } from "./lib.mjs";

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

/** Every package and every form of a record that the tests in Rust bend, kept by them in a folder. */
let bentFolder = process.env.INKFAST_BENT;
function bent() {
  if (bentFolder) return bentFolder;
  bentFolder = folder();
  const env = { ...process.env, INKFAST_BENT_TO: bentFolder };
  const tests = ["stranger", "handing_over", "packages", "check_page"].flatMap((name) => ["--test", name]);
  const ran = spawnSync("cargo", ["test", "--quiet", ...tests], { cwd: ROOT, encoding: "utf8", env });
  assert.equal(ran.status, 0, ran.stdout + ran.stderr);
  return bentFolder;
}

longTest("check.html reads records as strictly as the program does, in every form of every kind", async () => {
  const forms = JSON.parse(readFileSync(join(bent(), "forms.list"), "utf8"));
  assert.ok(forms.length > 10_000, String(forms.length));
  // The page's own modules, built as the page is, and handed out.
  const out = join(folder(), "reads.js");
  inkfast([join(ROOT, "src", "render", "check_page", "build.mjs"), "--module", "reads.js", out], { program: "node" });
  const { readJson, fitsRecord, fitsKind } = await import(pathToFileURL(out));
  const other = [];
  for (const [text, wanted] of forms) {
    const record = readJson(text);
    const known = record !== undefined && fitsRecord(record) ? fitsKind(record) : undefined;
    const said = known === undefined ? "no-record" : known === null ? "unknown" : known ? "fits" : "no-data";
    if (said !== wanted) other.push(`${wanted}, the page says ${said}: ${text}`);
  }
  assert.deepEqual(other.slice(0, 5), [], `${other.length} of ${forms.length}`);
});

test("check.html agrees with the program, word for word, on every package that the checker's tests bend", async () => {
  const kept = bent();
  const all = readdirSync(kept).filter((name) => name.endsWith(".tar")).sort();
  // Hundreds of them are noise, or one bit in some part of one package: some of these do, more in the long sweeps.
  const step = process.env.INKFAST_LONG ? 10 : 20;
  const alike = (name) => name.startsWith("packages-") || name.includes("noise");
  const names = all.filter((name, at) => !alike(name) || at % step === 0);
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
    "member-not-listed", "member-name", "span-broken", "withheld-unclear", "differences-broken", "rewritten-outside-copy", "outside-not-comparable", "clock-went-back"]) {
    assert.ok(seen.has(id), id);
  }
  quiet(page);
});

test("check.html compares with a slip and a receipt, and says beside the field what is mistyped", async () => {
  const { opened: [path] } = packages();
  const report = JSON.parse(spawnSync(CHECK, [path, "--json"], { encoding: "utf8" }).stdout);
  const { size, root } = report.checkpoint;
  const code = base32(Buffer.from(root, "hex")).slice(0, 20);
  const slip = `${size}:${code}${letter(code)}`;
  const page = await open(PAGE);
  const said = await judge(page, { path }, ["--slip", slip]);
  agree("a slip that agrees", said, program(path, ["--slip", slip]));
  assert.equal(said.verdict, "SOUND");
  await check(page, "sound by a slip");
  const wrong = letter(code) === "X" ? "Y" : "X";
  for (const typed of [`${size}:${code}${wrong}`, `${size}`, "12 acorn lamb", `${size} ${"acorn ".repeat(12)}`, `receipt ${slip}`]) {
    agree(typed, await judge(page, { path }, ["--slip", typed]), program(path, ["--slip", typed]));
    assert.equal(await page.evaluate(() => document.activeElement.id), "slip", typed);
    await page.fill("#slip", "");
  }
  await judge(page, { path }, ["--slip", `${size}:${code}${wrong}`]);
  await check(page, "mistyped");
  quiet(page);
});

test("check.html takes a folder or an archive that is dragged onto it", async () => {
  const { opened: [path], archive } = packages();
  const page = await open(PAGE);
  const cdp = await page.context().newCDPSession(page);
  for (const dragged of [path, archive]) {
    const data = { items: [], files: [dragged], dragOperationsMask: 1 };
    for (const type of ["dragEnter", "dragOver", "drop"]) await cdp.send("Input.dispatchDragEvent", { type, x: 400, y: 300, data });
    await page.getByText(/^Chosen:/).waitFor();
    await page.click("#check");
    await page.locator("#result:not([hidden])").waitFor();
    assert.equal(await page.textContent("#verdict strong"), "SOUND IN ITSELF", dragged);
  }
  quiet(page);
});

/** Base32 (RFC 4648), worked out here a second time. */
function base32(bytes) {
  const bits = [...bytes].map((byte) => byte.toString(2).padStart(8, "0")).join("");
  return bits.match(/.{5}/g).map((five) => "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567"[parseInt(five, 2)]).join("");
}

/** The check character of ISO/IEC 7064 MOD 37-2. */
function letter(code) {
  const signs = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*";
  return signs[(38 - [...code].reduce((p, c) => ((p + signs.indexOf(c)) * 2) % 37, 0)) % 37];
}

test("check.html can be read by everybody: axe, narrow, the keys alone, in print, in Spanish", async () => {
  const { opened } = packages();
  const page = await open(PAGE);
  await check(page, "start");
  await targets(page, "button, .button, textarea", 44);
  // With the keys alone: every control is reached, in the order in which they stand.
  const order = [];
  for (let i = 0; i < 7; i += 1) {
    await page.keyboard.press("Tab");
    order.push(await page.evaluate(() => document.activeElement.id || document.activeElement.lang));
  }
  assert.deepEqual(order, ["en", "es", "folder", "archive", "slip", "receipt", "check"]);
  await page.keyboard.press("Enter");
  assert.match(await page.textContent("#state"), /Choose the folder or the archive first/);

  await page.locator("#folder").setInputFiles(opened[0]);
  await page.focus("#check");
  await page.keyboard.press("Enter");
  await page.locator("#result-title").waitFor();
  assert.equal(await page.evaluate(() => document.activeElement.id), "result-title");
  await check(page, "sound");
  await page.emulateMedia({ media: "print" });
  await picture(page, "sound printed");
  if (process.env.INKFAST_PICTURES_TO) await page.pdf({ path: join(process.env.INKFAST_PICTURES_TO, "check-printed.pdf"), format: "A4", preferCSSPageSize: true });
  await page.emulateMedia({ media: null });

  await page.click("button[lang=es]");
  assert.equal(await page.getAttribute("html", "lang"), "es");
  assert.equal(await page.getAttribute("#certificate", "lang"), "en");
  assert.match(await page.textContent("#verdict"), /SOUND IN ITSELF.*\u00cdntegra en s\u00ed misma/s);
  await check(page, "sound in Spanish");
  // Nothing of the page's own is left in English.
  const left = await page.evaluate(() => [...document.querySelectorAll("[data-text], .actions, #not-checked li")]
    .map((e) => e.textContent).filter((t) => /\b(the|of|and|this)\b/i.test(t)));
  assert.deepEqual(left, []);
  const moving = await page.evaluate(() => document.getAnimations().length);
  assert.equal(moving, 0);
  quiet(page);
});

test("check.html is not moved by what a package brings along: odd names, markup, a bent page beside it", async () => {
  const { opened } = packages();
  const bent = join(folder(), "bent");
  cpSync(opened[2], bent, { recursive: true });
  const odd = "<img src=x onerror=alert(1)>";
  for (const name of [odd, "a b.txt", ".hidden", "\u202egnp.txt", "__proto__", "constructor"]) writeFileSync(join(bent, name), name);
  mkdirSync(join(bent, "entries", "toString"));
  writeFileSync(join(bent, "entries", "toString", "deep.json"), "[".repeat(1_000_000));
  writeFileSync(join(bent, "record.html"), "<script>document.title='moved'</script>");
  const record = join(bent, "entries", "000001.record.json");
  writeFileSync(record, readFileSync(record, "utf8").replace('"edition":1', '"edition":2'));
  const page = await open(PAGE);
  page.on("dialog", () => assert.fail("something from the package ran"));
  const said = await judge(page, { path: bent });
  assert.equal(said.verdict, "NOT SOUND");
  // What stands in what order among strays is the disk's; all else is compared as it stands.
  const wanted = JSON.parse(spawnSync(CHECK, [bent, "--json"], { encoding: "utf8" }).stdout);
  assert.deepEqual([...said.ids].sort(), wanted.findings.map((f) => f.id).sort());
  assert.ok((await page.textContent("#result")).includes(odd) && (await page.locator("#result img").count()) === 0);
  assert.ok((await page.textContent("#result")).includes("<U+202E>gnp.txt"));
  await check(page, "spoiled");
  await page.emulateMedia({ media: "print" });
  await picture(page, "spoiled printed");
  quiet(page);
  // Script that stands in the page itself, but is not the page's, does not run: the policy is by digest.
  const ran = await page.evaluate(() => {
    const script = document.createElement("script");
    script.textContent = "window.ran = true";
    document.body.append(script);
    return window.ran === true;
  });
  assert.equal(ran, false);
  const asked = await page.evaluate(() => fetch("https://example.org/").then(() => "answered", () => "refused"));
  assert.equal(asked, "refused");
});

test("check.html calls nothing sound in a browser without Ed25519, or with one that says yes to everything", async () => {
  const { opened: [path], sealed } = packages();
  const without = () => {
    const real = crypto.subtle.importKey.bind(crypto.subtle);
    crypto.subtle.importKey = (kind, key, name, ...rest) =>
      name === "Ed25519" ? Promise.reject(new DOMException("Unrecognized name.", "NotSupportedError")) : real(kind, key, name, ...rest);
  };
  const yes = () => { crypto.subtle.verify = () => Promise.resolve(true); };
  for (const [name, change] of [["without", without], ["yes to everything", yes]]) {
    const page = await newPage();
    await page.addInitScript(change);
    await page.goto(pathToFileURL(PAGE).href);
    await page.getByRole("alert").getByText("can\u2019t check signatures").waitFor();
    assert.equal((await judge(page, { path })).verdict, "NOT CHECKED", name);
    await check(page, name);
    await page.close();
  }
  // What is still sealed is said to be so, and is neither sound nor wrong.
  const page = await open(PAGE);
  assert.equal((await judge(page, { path: sealed, archive: true })).verdict, "NOT CHECKED");
  assert.match(await page.textContent("#result"), /still sealed/);
  await check(page, "still sealed");
  quiet(page);
});

longTest("check.html reads an attachment of 300 MB in slices: the page stays alive, and the check can be stopped", async () => {
  const { opened } = packages();
  const large = join(folder(), "large");
  cpSync(opened[0], large, { recursive: true });
  mkdirSync(join(large, "attachments"), { recursive: true });
  const file = join(large, "attachments", "0".repeat(64));
  writeFileSync(file, "");
  truncateSync(file, 300 << 20);
  const page = await open(PAGE);
  await page.evaluate(() => {
    window.longest = 0;
    let last = performance.now();
    const beat = () => {
      const now = performance.now();
      window.longest = Math.max(window.longest, now - last);
      last = now;
      requestAnimationFrame(beat);
    };
    beat();
  });
  const begun = Date.now();
  const said = await judge(page, { path: large });
  const took = (Date.now() - begun) / 1000;
  agree("300 MB", said, program(large));
  const longest = await page.evaluate(() => window.longest);
  console.log(`        300 MB in ${took.toFixed(1)} s; the page was busy for at most ${longest.toFixed(0)} ms`);
  assert.ok(longest < 1500, `the page stood still for ${longest} ms`);
  await page.click("#check");
  await page.locator("progress").waitFor();
  await page.click("#stop");
  await page.getByText("Stopped. Nothing was found out.").waitFor();
  assert.equal(await page.locator("#result").isHidden(), true);
  quiet(page);
});
