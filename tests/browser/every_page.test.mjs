// Every page that a link leads to, found by following the links: axe, 320 px, nothing identifying in address or title.
import { assert, check, enter, newPage, startDesk, test, longTest } from "./lib.mjs";

/** An address without its random words and numbers: pages of one kind are looked at once. */
const kind = (url) => new URL(url).pathname.replace(/\/[a-z2-7]{12}(?=\/|$)/g, "/{slot}").replace(/\/\d+(?=\/|$)/g, "/{number}");
// Printed pages of the record run no scripts, axe's neither; they are shown within pages that are looked at.
const PRINTED = /\/(inside|page|letter|printed|receipt\/\d+\/page)$/;

async function walk(code) {
  const desk = await startDesk();
  const page = await newPage();
  await enter(page, desk, code);
  // A chart with every kind of entry, found the way anybody finds it.
  await page.goto(`${desk.url}/charts`);
  await page.getByLabel("Number, name or birth date").fill("PM-0133");
  await page.getByRole("button", { name: "Find" }).click();
  const first = await page.locator(".charts a").first().evaluate((a) => a.href);
  const waiting = [`${desk.url}/`, first];
  const seen = new Map();
  while (waiting.length) {
    const url = waiting.shift();
    if (seen.has(kind(url))) continue;
    const answer = await page.goto(url);
    const type = answer.headers()["content-type"] ?? "";
    seen.set(kind(url), type);
    if (!type.startsWith("text/html") || (answer.headers()["content-security-policy"] ?? "").includes("sandbox")) continue;
    assert.ok(answer.status() < 500, `${url}: ${answer.status()}`);
    const told = `${url} ${await page.title()}`;
    assert.ok(!/PM-|hollowell|jarek|\d{4}-\d\d-\d\d/i.test(told), told);
    await check(page, `${code}${kind(url)}`);
    const links = await page.locator("a[href]").evaluateAll((all) => all.map((a) => a.href.split("#")[0]));
    waiting.push(...links.filter((link) => link.startsWith(desk.url) && !PRINTED.test(new URL(link).pathname)));
  }
  await desk.close();
  return [...seen.keys()];
}

test("every page that links lead the owner to is sound for everybody", async () => {
  const pages = await walk("IV");
  assert.ok(pages.length > 30, `${pages.length}: ${pages.join(" ")}`);
});

longTest("every page that links lead the desk to is sound for everybody", async () => {
  const pages = await walk("HL");
  assert.ok(pages.length > 25, `${pages.length}: ${pages.join(" ")}`);
});
