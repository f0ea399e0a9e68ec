// The desk: a request from the patient answered by a package that a stranger checks, the day closed, what a role does
// not open, and two browsers at once.
import { CHECK, assert, check, enter, folder, inkfast, newPage, picture, prints, startDesk, test, longTest } from "./lib.mjs";
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";

/** Answers questions by the names of their fields; what is not on the page yet comes on the next turn. */
async function answers(page, given) {
  for (let turn = 0; turn < 6; turn += 1) {
    for (const [name, value] of Object.entries(given)) {
      const field = page.locator(`main [name="${name}"]:not([type="hidden"])`).first();
      if (!await field.count()) continue;
      const [tag, type] = await field.evaluate((e) => [e.tagName, e.type]);
      if (type === "radio" || type === "checkbox") await page.locator(`main [name="${name}"][value="${value}"]`).check();
      else if (type === "file") await field.setInputFiles(value);
      else if (tag === "SELECT") await field.selectOption(value);
      else await field.fill(value);
    }
    await page.locator("main form button.main").click();
    await page.waitForLoadState();
    const wrong = await page.locator("main .wrong").count();
    if (wrong === 0 && !await page.locator('main input[name="asked"]').count()) return;
    assert.deepEqual(await page.locator("main .trouble").allInnerTexts(), [], page.url());
  }
  const open = await page.locator("main .wrong").evaluateAll((all) => all.map((e) => `${e.id}: ${e.textContent}`));
  assert.fail(`${page.url()}: ${open.join("; ")}`);
}

async function chart(page, desk, name) {
  await page.goto(`${desk.url}/charts`);
  await page.getByLabel("Number, name or birth date").fill(name);
  await page.getByRole("button", { name: "Find" }).click();
  await page.locator(".charts a").first().click();
  await page.getByRole("heading", { name: "Chart", exact: true }).waitFor();
  return page.url();
}

const REQUEST = {
  asker: "patient", kind: "copy", from: "Bettony Craske", relation: "self", received: "today",
  text: "All of my record, to take along.", "not-checked-because": "still to be done at the desk",
};

test("a request from the patient is taken, checked and answered by a package that a stranger finds sound", async () => {
  const desk = await startDesk();
  let page = await newPage();
  await enter(page, desk, "HL", { pin: "4711" });
  const at = await chart(page, desk, "craske");
  assert.ok(!/craske|0112/i.test(`${page.url()} ${await page.title()}`), "no name or number in address or title");
  await page.getByRole("link", { name: "Records are asked for" }).click();
  await answers(page, REQUEST);
  await page.getByText("Recorded as number").waitFor();

  await page.goto(`${desk.url}/requests`);
  await check(page, "requests");
  await page.locator(".requests a").first().click();
  await page.getByText("Refused:").or(page.getByText("Ask first:")).first().waitFor();
  await check(page, "request");
  await page.getByRole("link", { name: "Check who asks" }).click();
  await answers(page, { what: "identity", holds: "yes", words: "passport, seen at the desk" });
  await page.getByText("Recorded as number").waitFor();
  await page.getByText("Nothing stands against it.").waitFor();
  const request = page.url();
  // A package holds the notes, so whoever opens none makes none.
  assert.equal(await page.getByRole("link", { name: "Answer with a sealed package" }).count(), 0);
  await check(page, "request-at-the-desk");

  page = await newPage();
  await enter(page, desk, "IV", { pin: "2580", link: await desk.another() });
  await page.goto(request);

  const secret = "violet kettle under nine bridges";
  await page.getByRole("link", { name: "Answer with a sealed package" }).click();
  await page.getByLabel("Passphrase of the package").fill(secret);
  await page.getByLabel("The same once more").fill(secret);
  await answers(page, {
    "recipient-name": "Bettony Craske", address: "handed over at the desk", basis: "patient", channel: "handed over",
    "not-checked-because": "alone at the desk", sealed: "passphrase", "told-passphrase": "in person", pin: "2580",
  });
  await page.getByRole("heading", { name: "The package is ready" }).waitFor();
  await check(page, "package");
  const [download] = await Promise.all([
    page.waitForEvent("download"),
    page.getByRole("button", { name: "Take the package" }).click(),
  ]);
  const [file, key] = [join(folder(), "package.age"), join(folder(), "passphrase.txt")];
  await download.saveAs(file);
  writeFileSync(key, `${secret}\n`, { mode: 0o600 });
  const sound = inkfast([file, "--passphrase-file", key], { program: CHECK });
  assert.match(sound.out, /SOUND/);
  const chartNumber = inkfast([file, "--json", "--passphrase-file", key], { program: CHECK }).out;
  assert.equal(JSON.parse(chartNumber).sound, true);
  await page.goto(`${desk.url}/release/package`);
  await page.getByRole("button", { name: "I have it" }).click();
  await page.getByText("a package was released").waitFor();
  await page.goto(`${desk.url}/requests`);
  await page.getByText("No request is here.").waitFor();
  await desk.close();
});

test("what the desk's role does not open is not there, and every reading leaves an entry", async () => {
  const desk = await startDesk();
  const page = await newPage();
  await enter(page, desk, "HL");
  const at = await chart(page, desk, "craske");
  await page.getByRole("link", { name: "The record" }).click();
  await page.getByRole("button", { name: "Open the record" }).click();
  await page.getByRole("alert").waitFor();
  await page.getByLabel("billing", { exact: true }).check();
  await page.getByRole("button", { name: "Open the record" }).click();
  const record = page.frameLocator("iframe.leaf");
  await record.getByText("Record of treatment").waitFor();
  await picture(page, "record");
  const text = await (await page.request.get(`${at}/record/page`)).text();
  assert.match(text, /Visit note.*sealed, and not opened for this copy/);
  assert.ok(!/masseter/i.test(text), "no note in what the desk reads");
  await page.goto(`${desk.url}/office`);
  assert.equal(await page.getByRole("link", { name: "Who opened charts" }).count(), 0);
  const refused = await page.goto(`${desk.url}/office/openings`);
  assert.equal(refused.status(), 409);
  await check(page, "refused");
  // The keeper finds the opening, with its reason.
  const openings = JSON.parse(desk.run(["openings", "PM-0112", "--as", "HL", "--json", "--why", "review"]).out);
  assert.ok(openings.some((one) => one.author === "HL" && one.record.data.why === "billing" && one.record.data.printed));
  // Locked, the record is gone from the page's memory too.
  desk.run(["lock"]);
  const gone = await page.request.get(`${at}/record/page`, { maxRedirects: 0 });
  assert.equal(gone.status(), 303);
  await desk.close();
});

test("the day is closed, a safe copy made, a month of openings signed off, and each page is sound", async () => {
  const desk = await startDesk();
  const page = await newPage();
  await enter(page, desk, "IV");
  await page.goto(`${desk.url}/office/copies`);
  const to = join(folder(), "copy");
  await page.getByLabel("Folder of the copy").fill(to);
  await page.getByRole("button", { name: "Copy and check" }).click();
  await page.getByRole("alert").waitFor();
  await check(page, "copy-unnamed");
  await page.getByLabel("Your name for the place").fill("blue stick, safe at home");
  await page.getByRole("button", { name: "Copy and check" }).click();
  await page.getByText("The last copy is of today").waitFor();
  await check(page, "copy-made");
  assert.equal(desk.run(["verify", to]).status, 0);

  await page.goto(`${desk.url}/office/openings?month=2024-05`);
  await check(page, "openings");
  await page.getByRole("button", { name: "Sign the month off" }).click();
  if (await page.getByRole("alert").count()) {
    // Everything that stands out wants an answer.
    for (const answer of await page.locator("fieldset.judged").all()) {
      await answer.getByLabel("Fine, because").check();
      await answer.getByLabel("Because, or what is to be done").fill("looked into in May; see the office file");
    }
    await page.getByRole("button", { name: "Sign the month off" }).click();
  }
  await page.getByText("This month was signed off").waitFor();

  await page.goto(`${desk.url}/day`);
  await check(page, "day");
  await answers(page, { kept: "day book, page 212" });
  await page.getByRole("heading", { name: "Day slip", level: 1 }).waitFor();
  await check(page, "slip");
  await prints(page);
  const number = Number(await page.locator("#slip-number").innerText());
  const words = (await page.locator("#slip-words li").allInnerTexts()).join(" ");
  assert.match(desk.run(["verify", "--slip", `${number} ${words}`]).out, new RegExp(`slip ${number}`));
  await desk.close();
});

test("a letter is added to a chart, and the hold that it lifts is lifted with it", async () => {
  const desk = await startDesk();
  const page = await newPage();
  await enter(page, desk, "IV");
  const placed = JSON.parse(desk.run([
    "hold", "place", "PM-0112", "--as", "IV", "--json", "--reason", "a dispute", "--from-whom", "counsel", "--scope", "chart",
  ]).out);
  const letter = Buffer.from("The hold of 10 March is lifted.\n");
  await chart(page, desk, "craske");
  await page.getByRole("link", { name: "A letter, scan or picture is added" }).click();
  await check(page, "attach");
  const asked = {
    kind: "letter-received", title: "the hold is lifted", made: "2025-03-11", "made-by": "counsel, Pellmere", "not-made-here": "yes",
    received: "today", original: "kept", legible: "yes", "for-desk": "yes",
  };
  await answers(page, { ...asked, file: { name: "Craske, Bettony.txt", mimeType: "text/plain", buffer: letter } });
  const kept = Number((await page.getByText("Recorded as number").innerText()).match(/number (\d+)/)[1]);
  const into = join(folder(), "letter.txt");
  assert.equal(desk.run(["attach", "PM-0112", "--as", "IV", "--get", `${kept}`, "--into", into, "--why", "review"]).status, 0);
  assert.deepEqual(readFileSync(into), letter);
  const record = desk.run(["print", "PM-0112", "--as", "IV", "--json", "--why", "review"]).out;
  const mine = JSON.parse(record).find((entry) => entry.seq === kept || entry.number === kept);
  assert.equal(mine.record.data.media_type, "text/plain");
  assert.ok(!/Craske, Bettony/.test(JSON.stringify(mine.record.data)), "the name of the file is not kept");

  await page.goto(`${desk.url}/office/keeping`);
  await page.locator(`a[href$="hold=${placed.entry ?? placed.seq}"]`).click();
  await check(page, "lift");
  await answers(page, { by: "counsel", because: "the dispute is settled", letter: `${kept}` });
  await page.getByText("Recorded as number").waitFor();
  const holds = JSON.parse(desk.run(["hold", "list", "--as", "IV", "--json"]).out);
  assert.equal(holds.find((hold) => hold.entry === (placed.entry ?? placed.seq)).stands, false);
  await desk.close();
});

test("a chart opened in an emergency is looked at by somebody else, and by nobody twice", async () => {
  const desk = await startDesk();
  let page = await newPage();
  await enter(page, desk, "HL");
  assert.equal(desk.run(["print", "PM-0112", "--as", "HL", "--why", "emergency", "--words", "fainted at the door"]).status, 0);
  await page.goto(`${desk.url}/office/emergencies`);
  await page.getByText("Nothing waits for you.").waitFor();
  page = await newPage();
  await enter(page, desk, "IV", { link: await desk.another() });
  await page.goto(`${desk.url}/office`);
  await page.getByRole("link", { name: "Charts opened in an emergency" }).click();
  const mine = page.locator("form").filter({ hasText: "fainted at the door" });
  await check(page, "emergencies");
  await mine.getByRole("button", { name: "Record" }).click();
  await page.getByRole("alert").waitFor();
  await mine.getByLabel("Fine, because").check();
  await mine.getByLabel("Because, or what is to be done").fill("the allergies were needed at once");
  await mine.getByRole("button", { name: "Record" }).click();
  await page.getByText("Recorded.").waitFor();
  assert.equal(await mine.count(), 0, "reviewed once");
  const all = JSON.parse(desk.run(["openings", "emergency", "--as", "IV", "--json"]).out);
  assert.equal(all.find((one) => one.words.includes("fainted at the door")).seen, "fine");
  await desk.close();
});

longTest("two browsers at once, one at the desk and one in the audit, lose and double nothing", async () => {
  const desk = await startDesk();
  const [one, two] = [await newPage(), await newPage()];
  await enter(one, desk, "IV");
  await enter(two, desk, "IV", { link: await desk.another() });
  const at = await chart(one, desk, "craske");
  const before = JSON.parse(desk.run(["print", "PM-0112", "--as", "IV", "--json", "--why", "review"]).out);
  const contact = async (page, words) => {
    await page.goto(`${at}/do/contact`);
    await answers(page, { channel: "telephone", direction: "incoming", with: "Bettony Craske", checked: "birth date and address", said: words });
    await page.getByText("Recorded as number").waitFor();
  };
  const audit = async () => {
    await two.goto(`${desk.url}/audit`);
    await two.getByRole("button", { name: "Check this store now" }).click();
    await two.getByRole("heading", { name: "What was found" }).waitFor({ timeout: 60_000 });
    await two.locator('.verdict[data-sound="yes"]').waitFor();
  };
  const calls = ["first call", "second call", "third call", "fourth call"];
  await Promise.all([
    (async () => { for (const words of calls) await contact(one, words); })(),
    (async () => { for (let round = 0; round < 3; round += 1) await audit(); })(),
  ]);
  const after = JSON.parse(desk.run(["print", "PM-0112", "--as", "IV", "--json", "--why", "review"]).out);
  const added = after.slice(before.length).filter((entry) => entry.kind === "contact");
  assert.equal(added.length, calls.length);
  for (const words of calls) assert.equal(added.filter((entry) => JSON.stringify(entry.record.data).includes(words)).length, 1, words);
  assert.equal(desk.run(["verify"]).status, 0);
  await desk.close();
});

test("a form that comes after the page was locked waits for whoever typed it, and for nobody else", async () => {
  const desk = await startDesk();
  const page = await newPage();
  await enter(page, desk, "IV");
  const unlock = async (code) => {
    await page.getByLabel("Staff code").fill(code);
    await page.getByLabel("Passphrase", { exact: true }).fill(desk.passphrase(code));
    await page.getByRole("button", { name: "Unlock" }).last().click();
    await page.getByText(`${code} is here`).waitFor();
  };
  const sendLocked = async (words) => {
    await chart(page, desk, "craske");
    await page.getByRole("link", { name: "A call, message or no-show" }).click();
    await page.locator('main [name="with"]').fill(words);
    desk.run(["lock"]);
    await page.locator("main form button.main").click();
    await page.getByRole("heading", { name: "Locked" }).waitFor();
    assert.equal(await page.getByText(words).count(), 0, "nothing of it is shown while it is locked");
  };
  await sendLocked("her sister, by telephone");
  await unlock("IV");
  await page.getByRole("heading", { name: "Not sent yet" }).waitFor();
  await check(page, "not-sent-yet");
  await page.getByRole("button", { name: "Send it now" }).click();
  // The rest of the questions, with what was typed standing there.
  assert.equal(await page.locator('main [name="with"]').inputValue(), "her sister, by telephone");
  await sendLocked("somebody else entirely");
  await unlock("HL");
  await page.getByRole("heading", { name: "Today", exact: true }).waitFor();
  await page.goto(`${desk.url}/unsent`);
  assert.equal(await page.getByText("somebody else entirely").count(), 0);
  await desk.close();
});

longTest("whatever shows something of a chart asks why first, and shows it once the reason is given", async () => {
  for (const [address, shown] of [
    ["keep", (page) => page.getByRole("heading", { name: "By the adopted rules" })],
    ["openings", (page) => page.getByRole("table")],
    ["accounting", (page) => page.getByRole("heading", { name: "Told to the patient" })],
    ["record", (page) => page.locator("iframe.leaf")],
  ]) {
    // Each on a day on which nobody opened the chart: whoever did is not asked again for everything.
    const desk = await startDesk();
    const page = await newPage();
    await enter(page, desk, "IV");
    await page.goto(`${await chart(page, desk, "PM-0118")}/${address}`);
    await page.locator("main form button.main").click();
    await page.getByRole("alert").waitFor();
    assert.equal(await page.getByText("Why is the chart opened?").count(), 1, `${address}: without a reason`);
    await page.locator("#why-review").check();
    await page.locator("main form button.main").click();
    await shown(page).waitFor();
    assert.equal(await page.getByText("Why is the chart opened?").count(), 0, address);
    await check(page, `shown-${address}`);
    await desk.close();
  }
});
