// What the tests in a real browser share: a practice to work in, the page served from it, a browser, and the checks
// every page is put to.
import { chromium } from "playwright-core";
import axe from "axe-core";
import { spawn, spawnSync } from "node:child_process";
import assert from "node:assert/strict";
import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join, resolve } from "node:path";
import { fileURLToPath } from "node:url";

const HERE = dirname(fileURLToPath(import.meta.url));
export const ROOT = join(HERE, "..", "..");
const TARGET = resolve(ROOT, process.env.CARGO_TARGET_DIR ?? "target");
export const INKFAST = process.env.INKFAST ?? join(TARGET, "debug", "inkfast");
export const CHECK = process.env.INKFAST_CHECK ?? join(TARGET, "debug", "inkfast-check");
// Pictures to look at are written only where somebody wants to look at them.
const PICTURES = process.env.INKFAST_PICTURES_TO;

const rooms = mkdtempSync(join(tmpdir(), "inkfast-browser-"));
let count = 0;
const running = new Set();
process.on("exit", () => {
  for (const child of running) child.kill("SIGKILL");
  rmSync(rooms, { recursive: true, force: true });
});

/** A new empty folder, gone at the end. */
export function folder() {
  const path = join(rooms, String(++count));
  mkdirSync(path);
  return path;
}

/** The example practice, built once in a run and copied for each test. */
let example;
export function practice() {
  if (!example) {
    example = process.env.INKFAST_EXAMPLE ?? join(folder(), "example");
    if (!process.env.INKFAST_EXAMPLE) inkfast(["demo", "--into", example]);
  }
  const copy = join(folder(), "practice");
  cpSync(example, copy, { recursive: true });
  return copy;
}

/** Runs the program; its result, or as it ended where `ends` is given. */
export function inkfast(words, { env = {}, input = "", ends = 0, program = INKFAST } = {}) {
  const done = spawnSync(program, words, { input, encoding: "utf8", env: { ...process.env, ...env }, maxBuffer: 1 << 28 });
  if (ends !== null) assert.equal(done.status, ends, `${words.join(" ")}\n${done.stdout}${done.stderr}`);
  return { status: done.status, out: done.stdout, err: done.stderr };
}

/** The page, served from a copy of the example practice or from the one given. */
export class Desk {
  constructor(at) {
    this.at = at;
    this.store = join(at, "store");
    this.outside = join(at, "kept-outside");
    // A socket of its own, so that no test meets another's keeper; short, since such a path may not be long.
    this.runtime = mkdtempSync(join(tmpdir(), "ink-"));
    this.env = { XDG_RUNTIME_DIR: this.runtime, INKFAST_STORE: this.store, INKFAST_OUTSIDE: this.outside };
    this.port = 0;
  }

  async start() {
    const child = spawn(INKFAST, ["desk", "--port", String(this.port)], { env: { ...process.env, ...this.env } });
    this.child = child;
    running.add(child);
    child.once("exit", () => running.delete(child));
    this.said = "";
    child.stdout.on("data", (text) => { this.said += text; });
    child.stderr.on("data", (text) => { this.said += text; });
    this.links = 0;
    this.link = await this.next();
    this.port = Number(new URL(this.link).port);
    this.url = `http://127.0.0.1:${this.port}`;
    return this;
  }

  async next() {
    const until = Date.now() + 30_000;
    for (;;) {
      const links = this.said.match(/http:\/\/127\.0\.0\.1:\d+\/enter\?link=\w+/g) ?? [];
      if (links.length > this.links) return links[this.links++];
      assert.ok(Date.now() < until && this.child.exitCode === null, `no link: ${this.said}`);
      await new Promise((go) => setTimeout(go, 30));
    }
  }

  /** A further link, for another browser. */
  async another() {
    this.child.stdin.write("\n");
    return this.next();
  }

  /** Ends the server with this signal, and waits for its end. */
  async end(signal) {
    if (this.child.exitCode !== null || this.child.signalCode) return;
    const gone = new Promise((go) => this.child.once("exit", go));
    this.child.kill(signal);
    await gone;
  }

  stop() { return this.end("SIGINT"); }
  kill() { return this.end("SIGKILL"); }
  async restart() { await this.stop(); return this.start(); }

  /** A command of the command line on the same store, beside the page. */
  run(words, more = {}) {
    return inkfast(words, { ...more, env: this.env });
  }

  passphrase(code) { return readFileSync(join(this.at, `passphrase-${code}.txt`), "utf8").split("\n")[0]; }
  passphraseFile(code) { return join(this.at, `passphrase-${code}.txt`); }

  async close() {
    this.run(["lock"], { ends: null });
    await this.stop();
    rmSync(this.runtime, { recursive: true, force: true });
  }
}

export async function startDesk({ at = practice() } = {}) {
  return new Desk(at).start();
}

let browser;
/** A browser window of its own: its cookies are nobody else's. Whatever it asks of another computer fails the test. */
export async function newPage(options = {}) {
  browser ??= await chromium.launch({
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
      "--disable-component-update", "--disable-sync"],
  });
  const context = await browser.newContext({ locale: "en-GB", viewport: { width: 1280, height: 900 }, ...options });
  const page = await context.newPage();
  page.foreign = [];
  page.problems = [];
  page.on("request", (request) => {
    const url = request.url();
    if (!/^(http:\/\/(127\.0\.0\.1|localhost):|data:|blob:|file:)/.test(url)) page.foreign.push(url);
  });
  page.on("console", (message) => { if (message.type() === "error") page.problems.push(message.text()); });
  page.on("pageerror", (error) => page.problems.push(String(error)));
  return page;
}

export async function closeBrowser() { await browser?.close(); browser = undefined; }

/** Comes in by a link and unlocks as somebody; with a short number where one is given. */
export async function enter(page, desk, code, { pin, link } = {}) {
  await page.goto(link ?? desk.link);
  await page.getByLabel("Staff code").fill(code);
  await page.getByLabel("Passphrase", { exact: true }).fill(desk.passphrase(code));
  if (pin) {
    await page.getByLabel("A new short number").fill(pin);
    await page.getByLabel("The same once more").fill(pin);
  }
  await page.getByRole("button", { name: "Unlock" }).last().click();
  await page.getByText(`${code} is here`).waitFor();
}

/** WCAG 2.2 AA as far as axe can tell, and what it can't: no sideways scrolling when narrow, nothing asked of others. */
export async function axeClean(page, name = page.url()) {
  await page.evaluate(axe.source);
  const found = await page.evaluate(() =>
    globalThis.axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }));
  const words = found.violations.map((v) => `${v.id}: ${v.help}\n  ${v.nodes.map((n) => n.html).slice(0, 4).join("\n  ")}`);
  assert.deepEqual(words, [], name);
  assert.deepEqual(page.foreign, [], `${name}: asked of another computer`);
}

/** True when the page need not be moved sideways at this width (WCAG 2.2, 1.4.10: 320 px). */
export async function fits(page, width = 320, name = "narrow") {
  const size = page.viewportSize();
  await page.setViewportSize({ width, height: 800 });
  const over = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
  await picture(page, `${name}-${width}`);
  await page.setViewportSize(size);
  assert.ok(over <= 0, `${page.url()} is ${over} px too wide at ${width} px`);
}

/** Every target of a finger is at least 24 px (WCAG 2.2, 2.5.8), or as large as `least`. */
export async function targets(page, selector = "button, a.button, .choice label", least = 24) {
  const small = await page.evaluate(([selector, least]) =>
    [...document.querySelectorAll(selector)].map((e) => [e.outerHTML.slice(0, 80), e.getBoundingClientRect()])
      .filter(([, box]) => box.width > 0 && (box.width < least || box.height < least)).map(([html]) => html), [selector, least]);
  assert.deepEqual(small, [], `${page.url()}: smaller than ${least} px`);
}

/** Presses the button that prints: what is printed, once, is the page or the frame with this id. */
export async function prints(page, frame) {
  await page.evaluate((id) => {
    globalThis.printed = [];
    globalThis.print = () => globalThis.printed.push("page");
    if (id) document.getElementById(id).contentWindow.print = () => globalThis.printed.push(id);
  }, frame);
  await page.getByRole("button", { name: "Print" }).click();
  assert.deepEqual(await page.evaluate(() => globalThis.printed), [frame ?? "page"]);
}

/** A picture of the page as it is, where pictures are wanted. */
export async function picture(page, name) {
  if (!PICTURES) return;
  mkdirSync(PICTURES, { recursive: true });
  const path = join(PICTURES, `${current}-${name}.png`.replace(/[^\w.-]+/g, "_"));
  await page.screenshot({ path, fullPage: true });
}

/** Everything that is put to a page: axe, narrow, and a picture. */
export async function check(page, name) {
  await picture(page, name);
  await axeClean(page, name);
  await fits(page, 320, name);
}

const tests = [];
let current = "";
/** A test. They run one after another, in the order of the files. */
export function test(name, body) { tests.push([name, body]); }

/** One that takes long: run with INKFAST_LONG, as CI does, or when it is named. */
export function longTest(name, body) { tests.push([name, body, "long"]); }

/** Runs what was laid out, or what has these words in its name, and all of it where `named`; the number that failed. */
export async function runAll(only, named) {
  let failed = 0;
  for (const [name, body, long] of tests) {
    if (only && !name.includes(only) || long && !named && !process.env.INKFAST_LONG) continue;
    current = name.slice(0, 40);
    const begun = Date.now();
    try {
      await body();
      console.log(`ok      ${((Date.now() - begun) / 1000).toFixed(1)} s  ${name}`);
    } catch (error) {
      failed += 1;
      console.log(`FAILED  ${name}\n${error.stack ?? error}`);
    }
  }
  await closeBrowser();
  return failed;
}
export { assert };
