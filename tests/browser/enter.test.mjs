// Coming in, unlocking, locking: who is let in, and what is left behind in the browser.
import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { assert, check, enter, folder, newPage, startDesk, targets, test, longTest } from "./lib.mjs";

test("a link lets one browser in, once, and the page unlocks by passphrase", async () => {
  const desk = await startDesk();
  const page = await newPage();
  await page.goto(desk.url);
  await page.getByRole("heading", { name: "Closed" }).waitFor();
  await check(page, "closed");
  await page.goto(desk.link);
  await page.getByRole("heading", { name: "Locked" }).waitFor();
  assert.ok(!page.url().includes("link="), "the link does not stay in the address");
  await check(page, "locked");
  await targets(page);
  await page.getByLabel("Staff code").fill("IV");
  await page.getByLabel("Passphrase", { exact: true }).fill("something else entirely");
  await page.getByRole("button", { name: "Unlock" }).last().click();
  await page.getByRole("alert").waitFor();
  await check(page, "wrong");
  await page.getByLabel("Passphrase", { exact: true }).fill(desk.passphrase("IV"));
  await page.getByRole("button", { name: "Unlock" }).last().click();
  await page.getByText("IV is here").waitFor();
  assert.match(await page.title(), /^Today · Inkfast$/);
  await check(page, "today");

  const other = await newPage();
  await other.goto(desk.link);
  await other.getByRole("heading", { name: "Closed" }).waitFor();
  await other.goto(await desk.another());
  await other.getByRole("heading", { name: "Locked" }).waitFor();
  await desk.close();
});

test("a form of another site, another name and a form without its word are refused", async () => {
  const desk = await startDesk();
  const page = await newPage();
  await enter(page, desk, "IV");
  const cookie = (await page.context().cookies()).map((c) => `${c.name}=${c.value}`).join("; ");
  const call = (path, headers, body) => fetch(desk.url + path, { method: body === undefined ? "GET" : "POST", headers: { cookie, ...headers }, body, redirect: "manual" });
  assert.equal((await call("/", {})).status, 200);
  const form = { "content-type": "application/x-www-form-urlencoded" };
  assert.equal((await call("/lock", { ...form, origin: "https://somewhere.example" }, "form-word=x")).status, 403);
  assert.equal((await call("/lock", { ...form, "sec-fetch-site": "cross-site" }, "form-word=x")).status, 403);
  assert.equal((await call("/lock", form, "form-word=x")).status, 403);
  assert.equal((await call("/lock", form, "")).status, 403);
  assert.equal((await call("/", {})).status, 200, "still unlocked");
  // Without the cookie nobody is anybody.
  assert.equal((await fetch(desk.url + "/", { redirect: "manual" })).status, 403);
  const [set] = await page.context().cookies();
  assert.ok(set.httpOnly && set.sameSite === "Strict" && set.expires === -1, "a cookie of this run of the browser only");
  const answer = await call("/", {});
  assert.equal(answer.headers.get("cache-control"), "no-store");
  assert.match(answer.headers.get("content-security-policy"), /default-src 'none'; script-src 'self'/);
  assert.equal(answer.headers.get("referrer-policy"), "same-origin");
  await desk.close();
});

test("locking in one browser or at the command line locks every browser; the number opens again", async () => {
  const desk = await startDesk();
  const [one, two] = [await newPage(), await newPage()];
  await enter(one, desk, "IV", { pin: "4711" });
  await two.goto(await desk.another());
  await two.getByRole("heading", { name: "Go on as IV" }).waitFor();
  await two.getByLabel("Short number", { exact: true }).fill("1111");
  await two.getByRole("button", { name: "Unlock" }).first().click();
  await two.getByText("That is not the short number").waitFor();
  await two.getByLabel("Short number", { exact: true }).fill("4711");
  await two.getByRole("button", { name: "Unlock" }).first().click();
  await two.getByText("IV is here").waitFor();
  desk.run(["lock"]);
  await one.goto(desk.url);
  await one.getByRole("heading", { name: "Locked" }).waitFor();
  assert.equal(await one.getByText("Go on as").count(), 0, "the number opens nothing once it is locked");
  // Left open: the page turns to the locked one by itself.
  await two.getByRole("heading", { name: "Locked" }).waitFor({ timeout: 15_000 });
  await desk.close();
});

longTest("the page locks when the process stood still as in sleep", async () => {
  const desk = await startDesk();
  const page = await newPage();
  await enter(page, desk, "IV");
  desk.child.kill("SIGSTOP");
  await new Promise((go) => setTimeout(go, 17_000));
  desk.child.kill("SIGCONT");
  await page.goto(desk.url);
  await page.getByRole("heading", { name: "Locked" }).waitFor();
  assert.equal(desk.run(["today"], { ends: null }).status, 5, "the store is locked for everybody");
  await desk.close();
});

test("the cover hides what is on the screen, and the pages are in Spanish too", async () => {
  const desk = await startDesk();
  const page = await newPage();
  await enter(page, desk, "IV");
  // The heading may stand there before the page's script listens to keys.
  await page.waitForLoadState("load");
  await page.keyboard.press("Escape");
  await page.getByText("Covered.").waitFor();
  await check(page, "covered");
  await page.keyboard.press("a");
  await page.getByRole("heading", { name: "Today", exact: true }).waitFor();
  await page.getByRole("button", { name: "Español" }).click();
  await page.getByRole("heading", { name: "Hoy", exact: true }).waitFor();
  await check(page, "today-es");
  await desk.close();
});

test("pages work without scripts", async () => {
  const desk = await startDesk();
  const page = await newPage({ javaScriptEnabled: false });
  await enter(page, desk, "HL");
  await page.getByRole("button", { name: "Lock" }).click();
  await page.getByRole("heading", { name: "Locked" }).waitFor();
  await desk.close();
});

test("a page left alone locks itself, with scripts and without", async () => {
  for (const javaScriptEnabled of [true, false]) {
    const desk = await startDesk();
    const number = join(folder(), "number");
    writeFileSync(number, "4711\n", { mode: 0o600 });
    // The keeper's terminal is this run; the seconds stand for the minutes of the rules.
    desk.run(["unlock", "--as", "IV", "--passphrase-file", desk.passphraseFile("IV"), "--pin-file", number, "--idle-seconds", "5"]);
    const page = await newPage({ javaScriptEnabled });
    await page.goto(desk.link);
    await page.getByLabel("Short number", { exact: true }).fill("4711");
    await page.getByRole("button", { name: "Unlock" }).first().click();
    await page.getByText("IV is here").waitFor();
    await page.getByRole("heading", { name: "Locked" }).waitFor({ timeout: 20_000 });
    await desk.close();
  }
});
