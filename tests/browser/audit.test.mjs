// The audit: slips typed in, a check that runs while the page is left, a bent byte named, the certificate, the picture.
import { assert, check, enter, folder, newPage, picture, startDesk, test } from "./lib.mjs";
import { cpSync, readFileSync, readdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";

async function typed(page, desk, number, words) {
  await page.goto(`${desk.url}/audit`);
  await page.getByLabel("Number on the slip").fill(String(number));
  await page.getByLabel("Its twelve words, or its code").fill(words);
  await page.getByRole("button", { name: "Take this slip" }).click();
}

async function found(page) {
  await page.getByRole("heading", { name: "What was found" }).waitFor({ timeout: 60_000 });
}

test("a slip is typed in and found, a slip of the hand is noticed at once, and the certificate says its limits", async () => {
  const desk = await startDesk();
  const page = await newPage();
  await enter(page, desk, "IV");
  const slip = JSON.parse(desk.run(["slip", "--show", "--as", "IV", "--json"]).out);
  // One word copied wrong: the check words notice it, beside the paper.
  const wrong = [...slip.words];
  wrong[3] = wrong[3] === "kestrel" ? "wombat" : "kestrel";
  await typed(page, desk, slip.number, wrong.join(" "));
  await page.getByRole("alert").waitFor();
  await check(page, "slip-mistyped");
  await typed(page, desk, slip.number, slip.words.join(" "));
  await page.getByText("was read without a mistake").waitFor();
  await check(page, "slips");
  await page.getByRole("button", { name: "Check this store now" }).click();
  await page.waitForURL("**/audit/check");
  // It may be left, and come back to.
  await page.goto(`${desk.url}/charts`);
  await page.goto(`${desk.url}/audit/check`);
  await found(page);
  await page.locator('.verdict[data-sound="yes"]').waitFor();
  await page.getByText(`It agrees with slip ${slip.number}`).waitFor();
  await page.getByText("It does not prove that what was written is true.").waitFor();
  await check(page, "sound");
  const certificate = await page.request.get(`${desk.url}/audit/certificate`);
  assert.equal(certificate.status(), 200);
  assert.match(certificate.headers()["content-security-policy"], /default-src 'none'/);
  const text = await certificate.text();
  for (const words of ["SOUND", `slip ${slip.number}`, "What this does not prove", "no second book was kept"]) {
    assert.ok(text.includes(words), words);
  }
  const [kept] = await Promise.all([page.waitForEvent("download"), (async () => {
    await page.goto(`${desk.url}/audit`);
    await page.getByRole("button", { name: "Keep the newest one" }).click();
  })()]);
  const file = join(folder(), "checkpoint");
  await kept.saveAs(file);
  assert.equal(desk.run(["verify", "--slip", file]).status, 0);
  await desk.close();
});

test("a byte bent in a copy of the store is found and named, with what is still proven and what to do", async () => {
  const desk = await startDesk();
  const page = await newPage();
  await enter(page, desk, "IV");
  const bent = join(folder(), "store");
  cpSync(desk.store, bent, { recursive: true });
  const [segment] = readdirSync(join(bent, "ledger")).filter((name) => name.endsWith(".seg")).sort();
  const path = join(bent, "ledger", segment);
  const bytes = readFileSync(path);
  // Somewhere in the sealed middle of the ledger.
  const at = Math.floor(bytes.findLastIndex((byte) => byte !== 0) / 2);
  bytes[at] ^= 0x10;
  writeFileSync(path, bytes);
  await page.goto(`${desk.url}/audit`);
  await page.getByText("Check another folder").click();
  await page.getByLabel("Folder of a store or safe copy").fill(join(bent, "nowhere"));
  await page.getByRole("button", { name: "Check this folder" }).click();
  await page.getByRole("alert").waitFor();
  await page.getByText("Check another folder").click();
  await page.getByLabel("Folder of a store or safe copy").fill(bent);
  await page.getByRole("button", { name: "Check this folder" }).click();
  await found(page);
  await page.locator('.verdict[data-sound="no"]').waitFor();
  await check(page, "bent");
  const first = page.locator(".findings > li").first();
  assert.match(await first.innerText(), /WRONG/);
  // The same place that the program at the command line names.
  const told = JSON.parse(desk.run(["verify", bent, "--json", "--outside", join(bent, "none")], { ends: 1 }).out);
  const wrong = told.findings.filter((one) => one.severity === "wrong");
  assert.ok(wrong.length > 0);
  const all = await page.locator("main").innerText();
  for (const one of wrong.slice(0, 5)) {
    for (const words of [one.id, one.what, one.still_provable, one.next]) assert.ok(all.includes(words), words);
    if (one.where.seq) assert.ok(all.includes(`entry ${one.where.seq}`), `entry ${one.where.seq}`);
  }
  // The store itself is sound all the while.
  await page.goto(`${desk.url}/audit`);
  await page.getByRole("button", { name: "Check this store now" }).click();
  await found(page);
  await page.locator('.verdict[data-sound="yes"]').waitFor();
  await desk.close();
});

test("the picture of the ledger has the same figures as the command, and turns from years to months", async () => {
  const desk = await startDesk();
  const page = await newPage();
  await enter(page, desk, "IV");
  const told = JSON.parse(desk.run(["picture", "--as", "IV", "--json"]).out);
  await page.goto(`${desk.url}/audit/picture`);
  await check(page, "all");
  const text = await page.locator("main").innerText();
  assert.ok(text.includes(`${told.entries} entries on ${told.days} days`));
  assert.ok(text.includes(`${told.afterwards.corrections} corrections, ${told.afterwards.addenda} addenda, ${told.afterwards.late} late`));
  // The example practice put three things right, and nobody wrote thirty things afterwards on one day.
  assert.equal(told.afterwards.corrections, 3);
  assert.ok(told.busiest[0].entries < 5);
  await page.getByRole("link", { name: "2023", exact: true }).click();
  await check(page, "year");
  await page.getByRole("link", { name: "2023-05", exact: true }).click();
  await check(page, "month");
  assert.match(await page.locator("main").innerText(), /09 May 2023/);
  await page.getByText("How to read it").click();
  await page.pdf().catch(() => {});
  await picture(page, "legend");
  const svg = await page.locator(".picture svg").evaluate((e) => [e.getAttribute("role"), e.querySelector("title").textContent]);
  assert.deepEqual(svg, ["img", "The ledger over time"]);
  // Whoever opens no notes is told how many entries were not read.
  const desk2 = JSON.parse(desk.run(["picture", "--as", "IV", "--json", "--headers-only"]).out);
  assert.ok(desk2.not_read > told.not_read && desk2.afterwards.corrections === 3);
  await desk.close();
});
