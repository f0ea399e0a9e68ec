// The room in a real browser: a visit in few touches, a withdrawal with the server ended in between, a lid closed over
// half a line, a server killed while a note is signed.
import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { Desk, assert, check, enter, newPage, picture, practice, targets, test, longTest } from "./lib.mjs";

const CHART = "PM-0900";
const NAME = "Morwenna Tregear";

/** The page of room 1, with somebody unlocked. */
async function room(options = {}, more = {}) {
  const desk = new Desk(practice());
  desk.env.INKFAST_STATION = "room 1";
  await desk.start();
  const page = await newPage(options);
  await enter(page, desk, "IV", more);
  return { desk, page };
}

/** Minutes before now, as a moment. */
const ago = (minutes) => new Date(Date.now() - minutes * 60_000).toISOString().replace(/\.\d+Z$/, "+00:00");

/** A patient with consents and a signed visit behind them, kept by the command line beside the page. */
function patient(desk) {
  const run = (...words) => desk.run(words);
  const paper = join(desk.at, "paper.txt");
  writeFileSync(paper, "A signed page.\n", { mode: 0o600 });
  run("patient", "open", "--chart-no", CHART, "--name", NAME, "--born", "1991-03-17", "--second-identifier", "telephone",
    "--identifier", "555 0112", "--no-emergency-contact-because", "wants none", "--seen", "licence-card,birth-date",
    "--privacy-notice", "given", "--looked-for-same-name", "yes");
  run("patient", "allergies", CHART, "--substances", "latex=not-allergic");
  const kept = run("attach", CHART, paper, "--kind", "consent-paper", "--title", "Consent, signed", "--made", "today",
    "--made-by", "The Ropewalk Rooms", "--not-made-here", "no", "--pages", "1", "--original", "kept", "--original-at",
    "cabinet 2", "--legible", "yes", "--for-desk", "no", "--json");
  for (const [kind, techniques, regions, risks] of [
    ["treatment", "thrust,soft-tissue", "spine", "soreness,disc-or-nerve,neck-artery-event,stroke,rib-or-strain"],
    ["inside-mouth", "intraoral", "mouth", "soreness,jaw-ache,gag,bite-reflex,mouth-abrasion"],
  ]) {
    run("consent", CHART, "--kind", kind, "--form", "written-signed", "--wording", "F2", "--techniques", techniques,
      "--regions", regions, "--side", "both", "--given-by", "self", "--explained-by", "IV", "--explained-at", ago(20),
      "--risks", risks, "--procedures", "what is done, and how it feels", "--alternatives", "exercises only, or nothing",
      "--questions", "does it hurt?", "--answered", "yes", "--stop-signal", "left hand up", "--chaperone-offered", "yes",
      "--chaperone", "declined", "--paper", String(JSON.parse(kept.out).entry));
  }
}

/** Signs the first visit of the patient at the command line, so that the next is an ordinary one. */
function firstVisit(desk) {
  const run = (...words) => desk.run(words);
  run("visit", "open", CHART, "--usual");
  run("screen", "neck", "--all-no");
  run("note", "neck both tight; neck both soft 4 relieved 6>5; lumbar R tender 3");
  run("sign", "--complaints",
    'words="low back ache" pain=6 worst=8 region=lumbar side=right site="beside L4" quality=dull frequency=daily '
    + 'radiation=none onset="two weeks ago" mechanism=digging aggravating=sitting relieving=walking earlier-care=none',
    "--illness", "none", "--injuries", "none", "--medicines", "none", "--family", "none that bears on this",
    "--diagnoses", 'words="low back pain" basis="L4-5 restricted and tender on the right" region=lumbar',
    "--considered", 'what="nerve root" ruled-out-by="no sign of it"', "--advice", "walk daily",
    "--watch-for", "numb leg: call 555 0199", "--plan", "again in a week, then thrust", "--frequency", "weekly",
    "--duration", "four weeks", "--goals", 'words="sit an hour" measure=minutes target=60 by=2027-06-07',
    "--re-examine", "2027-06-07", "--answer", "outside-hours=an early visit",
    "--acknowledge-missing");
}

/** Finds the patient; opens the visit where none is open. */
async function patientPage(page, desk, { open = true } = {}) {
  await page.goto(`${desk.url}/room`);
  if (await page.locator(".patient-card.open").count()) {
    await page.locator(".patient-card.open").first().click();
    await page.locator(".targets").waitFor();
    return;
  }
  await page.getByLabel("Name or chart number").fill("tregear");
  await page.getByRole("button", { name: "Find" }).click();
  await page.locator(".patient-card").first().click();
  if (!open) return;
  await page.getByRole("button", { name: /open the visit/ }).click();
  await page.locator(".targets").waitFor();
}

/** What is done by hand, counted. */
class Hand {
  constructor(page) { this.page = page; this.touches = 0; this.keys = 0; this.letters = 0; this.lines = 0; }
  async touch(what) { this.touches += 1; await what.click(); await this.page.waitForLoadState(); }
  async key(key) {
    this.keys += 1;
    const gone = this.page.waitForNavigation();
    await this.page.keyboard.press(key);
    await gone;
  }
  async line(words) {
    const field = this.page.getByLabel("A line");
    this.touches += 1;
    this.lines += 1;
    this.letters += words.length;
    await field.click();
    await field.fill(words);
    await this.page.locator("#reading .reads .shape.yes").first().waitFor();
    await this.page.locator("input[name=seen]").waitFor({ state: "attached" });
    this.keys += 1;
    const gone = this.page.waitForNavigation();
    await this.page.keyboard.press("Enter");
    await gone;
  }
}

const entries = (desk) => JSON.parse(desk.run(["print", CHART, "--why", "review", "--json"]).out);
const question = (page) => page.locator("#question .verdict");

test("room: an ordinary visit from the list to the signature, in few touches", async () => {
  const { desk, page } = await room();
  patient(desk);
  firstVisit(desk);
  await page.goto(`${desk.url}/room`);
  await check(page, "list");
  await page.getByLabel("Name or chart number").fill("tregear");
  const hand = new Hand(page);
  await hand.touch(page.getByRole("button", { name: "Find" }));
  await hand.touch(page.locator(".patient-card").first());
  await check(page, "before");
  assert.doesNotMatch(await page.title(), /Tregear|PM-/);
  assert.doesNotMatch(page.url(), /tregear|PM-|0900/i);
  await hand.touch(page.getByRole("button", { name: /open the visit/ }));
  await check(page, "opened");
  await targets(page, ".target, .digits button", 72);
  await hand.touch(page.locator(".screens summary").filter({ hasText: "neck" }));
  await hand.touch(page.locator(".screens details[open] button.main"));
  await page.getByText("The screen is kept.").waitFor();
  // One touch for what was done last time; then the answer with one key.
  await hand.touch(page.locator(".last-time button").first());
  await question(page).waitFor();
  await picture(page, "question");
  await hand.key("y");
  await page.getByText("Kept: asked, and the answer was yes.").waitFor();
  // A thrust at another place: two touches and a key.
  await hand.touch(page.locator("#spot-lumbar-right"));
  await hand.touch(page.locator(".chips-of").getByRole("button", { name: "Thrust" }));
  await hand.key("y");
  await page.getByText("Yes", { exact: true }).first().waitFor();
  await hand.line("changed easier since Friday; complaint back ache 5");
  await hand.line("opening 38 before; L4-5 R restricted; neck both tight");
  // The body chart begins a line.
  await hand.touch(page.locator("#spot-lumbar-right"));
  await hand.touch(page.locator("label[for=grade-2]").or(page.locator("#grade-2")).first());
  await hand.touch(page.getByRole("button", { name: "tender" }));
  assert.equal(await page.getByLabel("A line").inputValue(), "lumbar R tender 2");
  await hand.touch(page.getByRole("button", { name: "add it to the note" }));
  await hand.line("neck both soft 4 ok; L4-5 R thrust side-lying 5>3");
  await hand.touch(page.locator(".target.count"));
  await picture(page, "number");
  await hand.key("4");
  await page.getByText("Kept in the note: 4 of 10.").waitFor();
  await hand.key(" ");
  await page.getByText("This moment is marked.").waitFor();
  await page.getByLabel(/^Marked at/).fill("let go");
  await hand.touch(page.locator(".mark button"));
  await hand.line("opening 43 after; compared better; plan again Friday");
  await check(page, "written");
  for (const part of ["assessment", "advice"]) await hand.touch(page.locator(`#carry-${part}`));
  // What the clock or the calendar asks about is answered where it is asked.
  for (const field of await page.locator(".remarks input[name='answer']").all()) await field.fill("asked, and right");
  await hand.touch(page.getByRole("button", { name: "Sign the note" }));
  if (await page.getByText("Not signed yet").count()) {
    await check(page, "missing");
    for (const field of await page.locator(".remarks input:not([type=hidden])").all()) {
      if (!(await field.inputValue())) await field.fill("asked, and nothing to add");
    }
    await hand.touch(page.getByRole("button", { name: "Sign the note" }));
  }
  await page.getByText("Signed and sealed").waitFor();
  console.log(`        ${hand.touches} touches, ${hand.keys} keys, ${hand.lines} lines of ${hand.letters} letters in all`);
  assert.ok(hand.touches <= 23, `${hand.touches} touches`);
  assert.ok(hand.keys <= 8, `${hand.keys} keys`);
  assert.ok(hand.letters <= 260, `${hand.letters} letters`);
  const note = entries(desk).filter((e) => e.kind === "visit").pop().record.data;
  assert.equal(note.procedures.length, 2);
  assert.equal(note.agreed.asked.length, 2);
  assert.deepEqual(note.checks.map((c) => c.number ?? c.words), [4, "let go"]);
  assert.deepEqual(note.measures.map((m) => m.phase), ["before", "after"]);
  assert.deepEqual(page.problems, []);
  await desk.close();
});

test("room: a withdrawal in two touches, its words after the server was ended", async () => {
  const { desk, page } = await room();
  patient(desk);
  await patientPage(page, desk);
  await page.locator("#spot-neck-joints-left").click();
  await page.locator(".chips-of").getByRole("button", { name: "Thrust" }).click();
  await question(page).waitFor();
  const hand = new Hand(page);
  await hand.key("y");
  await page.getByText("Kept: asked, and the answer was yes.").waitFor();
  await hand.touch(page.locator(".target.stop"));
  await page.getByRole("heading", { name: /^Stopped at/ }).waitFor();
  await check(page, "stopped");
  await targets(page, ".way", 72);
  await hand.touch(page.getByRole("button", { name: "Taken back: everything" }));
  await page.getByRole("heading", { name: /^Taken back at/ }).waitFor();
  assert.equal(hand.touches, 2);
  await check(page, "withdrawn");
  // Half written, then the server ends; another one goes on where it was.
  const kept = page.waitForResponse((r) => r.url().endsWith("/keep") && r.status() === 204);
  await page.getByLabel("The patient's own words").fill("no more of the neck today");
  await kept;
  await desk.restart();
  const again = await newPage();
  await enter(again, desk, "IV");
  await patientPage(again, desk);
  assert.equal(await again.getByLabel("The patient's own words").inputValue(), "no more of the neck today");
  // What was taken back is not covered, whoever asks.
  assert.match(await question(again).innerText(), /No/);
  await again.getByLabel("What was stopped?").fill("all of it");
  await again.getByRole("button", { name: "Keep these words" }).first().click();
  await again.getByText("What happened then is written.").waitFor();
  const taken = entries(desk).filter((e) => e.kind === "withdrawal").map((e) => e.record.data);
  assert.equal(taken.length, 2);
  assert.equal(taken[1].patient_words, "no more of the neck today");
  assert.equal(taken[1].stopped.what, "all of it");
  await desk.close();
});

longTest("room: the lid closed over half a line; after unlocking it stands there again", async () => {
  const { desk, page } = await room();
  patient(desk);
  await patientPage(page, desk);
  const here = page.url();
  const kept = page.waitForResponse((r) => r.url().endsWith("/keep") && r.status() === 204);
  await page.getByLabel("A line").fill("L4-5 R restr");
  await kept;
  desk.child.kill("SIGSTOP");
  await new Promise((go) => setTimeout(go, 17_000));
  desk.child.kill("SIGCONT");
  await page.getByRole("heading", { name: "Locked" }).waitFor({ timeout: 20_000 });
  assert.equal(await page.getByText(NAME).count(), 0, "nothing of the patient is on the screen");
  await page.getByLabel("Staff code").fill("IV");
  await page.getByLabel("Passphrase", { exact: true }).fill(desk.passphrase("IV"));
  await page.getByRole("button", { name: "Unlock" }).last().click();
  await page.getByText("IV is here").waitFor();
  assert.equal(await page.getByRole("heading", { name: "Not sent yet" }).count(), 0, "a script's word is no form");
  await page.goto(here);
  assert.equal(await page.getByLabel("A line").inputValue(), "L4-5 R restr");
  await desk.close();
});

longTest("room: a server killed while a note is signed leaves it whole or not signed, and nothing lost", async () => {
  const { desk, page } = await room();
  patient(desk);
  let before = 0;
  const outcomes = [];
  for (const delay of [0, 40, 120, 300, 3000]) {
    const now = await newPage();
    await enter(now, desk, "IV", { link: before ? desk.link : await desk.another() });
    await patientPage(now, desk);
    if ((await now.locator(".lines li").count()) === 0) {
      await now.getByLabel("A line").fill("neck both tight");
      await now.locator("input[name=seen]").waitFor({ state: "attached" });
      await now.keyboard.press("Enter");
      await now.getByText("The line is in the note.").waitFor();
    }
    // Held, the note lacks nothing any more: the next touch signs it.
    for (let n = 0; n < 4 && !(await now.getByText(/^Held\./).count()); n += 1) {
      if (await now.locator("#acknowledge").count()) await now.locator("#acknowledge").check();
      for (const field of await now.locator(".remarks input[name='answer']").all()) await field.fill("right");
      await now.getByRole("button", { name: "Hold it" }).click();
      await now.waitForLoadState();
    }
    await now.getByText(/^Held\./).waitFor();
    void now.getByRole("button", { name: "Sign the note" }).click({ noWaitAfter: true }).catch(() => {});
    await new Promise((go) => setTimeout(go, delay));
    await desk.kill();
    await now.context().close();
    const verified = desk.run(["verify", "--json"], { ends: null });
    assert.ok([0, 8].includes(verified.status), verified.out + verified.err);
    await desk.start();
    const all = entries(desk);
    const notes = all.filter((e) => e.kind === "visit").length;
    const closed = all.filter((e) => e.kind === "visit-closed").length;
    assert.equal(notes, closed, "the note and the end of its visit are one");
    const open = all.filter((e) => e.kind === "visit-opened").length - closed;
    if (open) assert.doesNotMatch(desk.run(["note", CHART, "--show"]).out, /has no lines/, "what was not signed is in the draft");
    before += 1;
    outcomes.push(open ? "not signed" : "signed");
  }
  assert.ok(outcomes.includes("signed") && outcomes.includes("not signed"), `both were met: ${outcomes.join(", ")}`);
  await page.context().close();
  await desk.close();
});

test("room: single keys can be turned off, a pedal's key goes on, Escape covers", async () => {
  const { desk, page } = await room();
  patient(desk);
  await patientPage(page, desk);
  await page.keyboard.press("Escape");
  await page.getByText("Covered.").waitFor();
  await page.keyboard.press("s");
  assert.equal(await page.locator(".stopped").count(), 0, "a key that uncovers does nothing else");
  await page.getByRole("button", { name: "Single keys" }).click();
  await page.keyboard.press("s");
  assert.equal(await page.locator(".stopped").count(), 0);
  await page.getByLabel("A line").fill("plan s");
  assert.equal(await page.locator(".stopped").count(), 0, "letters of a line are no keys");
  const gone = page.waitForNavigation();
  await page.keyboard.press("F9");
  await gone;
  await page.getByText("This moment is marked.").waitFor();
  await desk.close();
});

test("room: without scripts a line is read back first and added then; a doubt is asked about", async () => {
  const { desk, page } = await room({ javaScriptEnabled: false });
  patient(desk);
  await patientPage(page, desk);
  await page.getByLabel("A line").fill("T12 L tender");
  await page.getByRole("button", { name: "Read it back" }).click();
  await page.getByRole("button", { name: /vertebra T12/ }).click();
  await page.locator(".reads .shape.yes").waitFor();
  assert.match(await page.locator(".reads").innerText(), /vertebra T12, left/);
  await picture(page, "read-back");
  await page.getByRole("button", { name: "add it to the note" }).click();
  await page.locator(".lines li").waitFor();
  await page.locator("#spot-lumbar-left").check();
  await page.locator(".chips-of").getByRole("button", { name: "Thrust" }).click();
  await question(page).waitFor();
  await page.locator(".target.yes").click();
  await page.getByText("the answer was yes").waitFor();
  await page.locator(".target.count").click();
  await page.locator("[data-digit='7']").click();
  await page.getByText("Kept in the note: 7 of 10.").waitFor();
  await page.getByRole("button", { name: "Español" }).click();
  await page.goto(`${desk.url}/room`);
  await page.locator(".patient-card.open").click();
  await page.getByRole("heading", { name: "A tener en cuenta" }).waitFor();
  await picture(page, "es");
  await desk.close();
});
