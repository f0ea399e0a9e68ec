// A consent on the screen in a real browser: what is shown is what is stored, whoever signs for whom, a no as well as a
// yes, and nothing else within the patient's reach.
import { createHash } from "node:crypto";
import { mkdtempSync, readFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { Desk, assert, axeClean, check, enter, fits, newPage, picture, practice, prints, targets, test, longTest } from "./lib.mjs";

const CHILD = "PM-0901";

async function room({ pin, options = {} } = {}) {
  const desk = new Desk(practice());
  desk.env.INKFAST_STATION = "room 1";
  await desk.start();
  const page = await newPage(options);
  await enter(page, desk, "IV", { pin });
  return { desk, page };
}

/** A child of ten whose mother may consent and whose father may not. */
function child(desk) {
  const born = `${new Date().getFullYear() - 10}-02-11`;
  desk.run(["patient", "open", "--chart-no", CHILD, "--name", "Jowan Trevail", "--born", born, "--second-identifier",
    "telephone", "--identifier", "555 0190", "--no-emergency-contact-because", "wants none", "--seen", "birth-date",
    "--privacy-notice", "given", "--looked-for-same-name", "yes", "--decides", "guardian"]);
  for (const [id, name, relation, may] of [["dm-1", "Kerensa Trevail", "mother", "yes"], ["dm-2", "Piran Trevail", "father", "no"]]) {
    desk.run(["guardian", CHILD, "--person-id", id, "--name", name, "--relation", relation, "--born", "1985-04-04",
      "--basis", "parent", "--on-file", "yes", "--document-seen", "birth entry", "--may-consent", may, "--may-receive", "yes"]);
  }
}

/** Finds somebody in the room's list; the way to the consent from there. */
async function toConsent(page, desk, who) {
  await page.goto(`${desk.url}/room`);
  await page.getByLabel("Name or chart number").fill(who);
  await page.getByRole("button", { name: "Find" }).click();
  await page.locator(".patient-card").first().click();
  await page.getByRole("link", { name: "Consent on the screen" }).click();
  await page.getByRole("heading", { name: "Consent on the screen" }).waitFor();
}

/** Sets up soft-tissue work on the neck. */
async function setUp(page) {
  for (const id of ["#ask-techniques-soft-tissue", "#ask-regions-cervical", "#ask-side-both"]) await page.locator(id).check();
}

async function turn(page) {
  await page.getByRole("button", { name: "Turn the screen" }).last().click();
  await page.locator(".answers").waitFor();
}

/** Draws something like a name with the mouse. */
async function draw(page) {
  const canvas = page.locator("#canvas");
  await canvas.scrollIntoViewIfNeeded();
  const box = await canvas.boundingBox();
  for (const part of [0, 1]) {
    const at = (n) => [box.x + box.width * (0.1 + part * 0.4 + n * 0.012), box.y + box.height * (0.5 + 0.25 * Math.sin(n / 2))];
    await page.mouse.move(...at(0));
    await page.mouse.down();
    for (let n = 1; n < 24; n += 1) await page.mouse.move(...at(n));
    await page.mouse.up();
  }
}

const entries = (desk, chart) => JSON.parse(desk.run(["print", chart, "--why", "review", "--json"]).out);
const kind = (all, word) => all.filter((e) => e.kind === word);

/** The file of an attachment, taken out by the command line. */
function taken(desk, chart, entry) {
  const into = join(mkdtempSync(join(tmpdir(), "ink-out-")), "file");
  desk.run(["attach", chart, "--get", String(entry.seq), "--into", into, "--why", "review"]);
  return readFileSync(into);
}

test("consent: a guardian signs; what was shown and drawn is what is stored", async () => {
  const { desk, page } = await room({ pin: "4711" });
  child(desk);
  await toConsent(page, desk, "trevail");
  await check(page, "set-up");
  assert.ok(await page.locator("#ask-given-by-decision-maker").isChecked(), "a child does not give it alone");
  await setUp(page);
  await page.locator("#ask-giver").fill("dm-1");
  await turn(page);
  const shown = await page.locator(".consent-page").innerText();
  assert.match(shown, /I, Kerensa Trevail, answer for Jowan Trevail\./);
  assert.match(shown, /Soft-tissue work/);
  assert.match(shown, /Before we begin/);
  await check(page, "patients-page");
  await targets(page, ".answer", 72);
  const size = await page.evaluate(() => Math.min(...[...document.querySelectorAll(".consent-page p, .consent-page dd, .consent-page button")]
    .filter((e) => e.getBoundingClientRect().width > 0 && !e.closest(".hand-back")).map((e) => parseFloat(getComputedStyle(e).fontSize))));
  assert.ok(size >= 22, `letters of ${size} px`);
  // Yes without a signature is none.
  await page.getByRole("button", { name: "Yes, I agree" }).click();
  await page.getByRole("alert").waitFor();
  await check(page, "not-signed");
  await draw(page);
  await picture(page, "signed");
  await page.getByRole("button", { name: "Yes, I agree" }).click();
  await page.getByRole("heading", { name: "Thank you. Your yes is kept." }).waitFor();
  await check(page, "thanks");
  // Back with the short number, and only with it.
  await page.getByText("For the practitioner").click();
  await page.getByLabel("Short number").fill("1111");
  await page.getByRole("button", { name: "Take the screen back" }).click();
  await page.getByText("That is not the short number").waitFor();
  await page.getByText("For the practitioner").click();
  await page.getByLabel("Short number").fill("4711");
  await page.getByRole("button", { name: "Take the screen back" }).click();
  await page.getByRole("heading", { name: "Receipt", exact: true }).waitFor();
  const receipt = page.frameLocator("#receipt");
  await receipt.getByText("Receipt for your consent").waitFor();
  await picture(page, "receipt");
  await prints(page, "receipt");
  const words = await receipt.locator("body").innerText();
  const all = entries(desk, CHILD);
  const [consent] = kind(all, "consent");
  const data = consent.record.data;
  const code = words.match(/([A-Z2-7]{4}-){5}[0-9A-Z*]{2}/)[0];
  const [checked] = [desk.run(["verify", "--receipt", `${consent.seq} ${code}`, "--json"])];
  assert.equal(checked.status, 0, "the receipt checks");
  assert.deepEqual(data.given_by, { role: "decision-maker", person_id: "dm-1", name: "Kerensa Trevail" });
  assert.equal(data.form, "written-on-screen");
  assert.ok(Date.parse(data.explained.at) <= Date.parse(consent.record.happened.start), "explained before it was signed");
  const papers = kind(all, "attachment");
  assert.equal(papers.length, 2);
  assert.equal(data.paper, papers[0].seq);
  const strokes = JSON.parse(taken(desk, CHILD, papers[1]));
  assert.equal(strokes.drawn.strokes.length, 2);
  assert.equal(strokes.drawn.with, "mouse");
  assert.ok(strokes.drawn.strokes.flat().every((p) => p.length === 3 && p.every(Number.isInteger)));
  assert.equal(strokes.shown.wording, data.wording);
  assert.equal(strokes.shown.lines[0], "I, Kerensa Trevail, answer for Jowan Trevail.");
  // What the screen said of the end of it is what the record says.
  const until = strokes.shown.lines.find((line) => line.startsWith("Until: "));
  const day = new Date(`${data.valid_until}T12:00:00Z`);
  assert.equal(until, `Until: ${day.toLocaleDateString("en-GB", { day: "2-digit", month: "short", year: "numeric", timeZone: "UTC" })}`);
  const svg = taken(desk, CHILD, papers[0]).toString();
  assert.match(svg, /^<svg /);
  assert.equal((svg.match(/<path d="M\d+ \d+L/g) ?? []).length, 2);
  assert.ok(createHash("sha256").update(svg).digest("hex") && svg.includes("Kerensa Trevail"));
  assert.equal(desk.run(["may", CHILD, "--technique", "soft-tissue", "--region", "cervical", "--side", "left", "--why", "review"], { ends: null }).status !== 1, true,
    "what was agreed to is not refused for lack of a consent");
  await desk.close();
});

test("consent: the patient's page leads nowhere else, in its own browser, until the screen comes back", async () => {
  const { desk, page } = await room({ pin: "4711" });
  await toConsent(page, desk, "stroud");
  await setUp(page);
  await turn(page);
  for (const path of ["/", "/room", `/consent/${page.url().split("/").at(-2)}`, `/room/${page.url().split("/").at(-2)}`]) {
    await page.goto(desk.url + path);
    assert.match(page.url(), /\/consent\/\w+\/show$/, path);
  }
  await page.goBack();
  assert.equal(await page.getByText("Which techniques?").count(), 0, "also behind the Back button");
  await page.goto(`${desk.url}/room`);
  assert.equal(await page.locator("header, nav, footer").count(), 0);
  const links = await page.locator("a").count();
  assert.equal(links, 0, "no link leads away");
  const tab = await page.context().newPage();
  await tab.goto(`${desk.url}/room`);
  assert.match(tab.url(), /\/show$/, "nor another tab");
  await desk.close();
});

test("consent: a no needs no signature; a typed name is one where it is meant; in Spanish", async () => {
  const { desk, page } = await room();
  await toConsent(page, desk, "hollowell");
  await setUp(page);
  await page.locator("#lang-es").check();
  await turn(page);
  await page.getByRole("heading", { name: "De qué se trata" }).waitFor();
  await axeClean(page, "es");
  await fits(page);
  await page.getByLabel("Si es no").fill("prefiero esperar");
  await page.getByRole("button", { name: "No, no estoy de acuerdo" }).click();
  await page.getByRole("heading", { name: "Gracias. Su no está guardado." }).waitFor();
  await page.getByText("For the practitioner").click();
  await page.getByRole("button", { name: "Take the screen back" }).click();
  await page.frameLocator("#receipt").getByText("Receipt for what you declined").waitFor();
  const declined = kind(entries(desk, "PM-0133"), "consent").pop().record.data;
  assert.deepEqual([declined.status, declined.declined_because, declined.paper], ["declined", "prefiero esperar", undefined]);

  await page.getByRole("link", { name: "Back to the patient" }).click();
  await page.getByRole("link", { name: "Consent on the screen" }).click();
  await setUp(page);
  await turn(page);
  await page.getByText("I would rather type my name").click();
  await page.getByLabel("Your full name").fill("Jarek Hollowell");
  await page.getByRole("button", { name: "Yes, I agree" }).click();
  await page.getByText("Please tick that the typed name is meant").waitFor();
  await page.getByLabel("I mean this typed name as my signature.").check();
  await page.getByRole("button", { name: "Yes, I agree" }).click();
  await page.getByRole("heading", { name: "Thank you. Your yes is kept." }).waitFor();
  const all = entries(desk, "PM-0133");
  const file = JSON.parse(taken(desk, "PM-0133", kind(all, "attachment").pop()));
  assert.deepEqual(file.typed, { text: "Jarek Hollowell", statement: "I mean this typed name as my signature." });
  await desk.close();
});

longTest("consent: set up, then the server ends before it is signed: what was set up waits", async () => {
  const { desk, page } = await room();
  await toConsent(page, desk, "hollowell");
  await setUp(page);
  await turn(page);
  await desk.kill();
  await desk.start();
  const again = await newPage();
  await enter(again, desk, "IV");
  await toConsent(again, desk, "hollowell");
  await again.getByText("What was set up before waits for its answer.").waitFor();
  await again.getByRole("button", { name: "Turn the screen" }).first().click();
  await again.locator(".answers").waitFor();
  assert.match(await again.locator(".agreed").innerText(), /Soft-tissue work/);
  // Two browsers at once: one shows the patient's page, the other goes on working.
  const other = await newPage();
  await other.goto(await desk.another());
  await other.getByLabel("Staff code").fill("IV");
  await other.getByLabel("Passphrase", { exact: true }).fill(desk.passphrase("IV"));
  await other.getByRole("button", { name: "Unlock" }).last().click();
  await other.goto(`${desk.url}/room`);
  await other.getByRole("heading", { name: "Find a patient" }).waitFor();
  await desk.close();
});
