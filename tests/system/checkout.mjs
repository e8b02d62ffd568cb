// The checkout in a headless browser: whole cases, wrong taps, reloads, two screens, a restarted server, other languages.
//   node checkout.mjs ADDRESS BROWSER SHOTS      (with playwright-core and axe-core beside it)
// Prints TAP. SHOTS is a folder for pictures of what people see.
import { finish, launch, report, serious } from "./browser.mjs";

const [address, executablePath, shots] = process.argv.slice(2);

const browser = await launch(executablePath);
const context = await browser.newContext({ viewport: { width: 800, height: 600 } });
const faults = [];
async function screen() {
  const page = await context.newPage();
  page.on("pageerror", (fault) => faults.push(fault.message));
  page.on("console", (line) => { if (line.type() === "error" && !/409|422/.test(line.text())) faults.push(line.text()); });
  await page.goto(address);
  await page.waitForSelector("#step");
  return page;
}

const state = async (page) => page.evaluate(async () => (await fetch("/state")).json());
const turned = (page, turn) => page.waitForFunction(async (seen) => (await (await fetch("/state")).json()).turn !== seen, turn);

async function answer(page, key) {
  const before = (await state(page)).turn;
  const title = await page.textContent("#step");
  await page.keyboard.press(key);
  await turned(page, before);
  await page.waitForFunction((old) => document.getElementById("step").textContent !== old
    || document.querySelector("[data-answer]") === null, title);
}

async function begin(page, value) {
  await page.fill("input[name=value]", value);
  await page.keyboard.press("Enter");
  await page.waitForSelector("[data-answer]");
}

async function targets(page) {
  return page.evaluate(() => [...document.querySelectorAll("button, select, input, summary, a.button")]
    .filter((each) => each.offsetParent !== null)
    .filter((each) => { const box = each.getBoundingClientRect(); return box.width < 48 || box.height < 48; })
    .map((each) => each.outerHTML.slice(0, 80)));
}

const page = await screen();
await page.screenshot({ path: `${shots}/1-idle.png` });
report(await serious(page) === 0, "no serious fault of access while nothing is asked");

await page.fill("input[name=value]", "55");
await page.keyboard.press("Enter");
await page.waitForSelector("#told:not([hidden])");
report((await page.textContent("#told")).length > 10, "a value that no note has is told in words");

await page.click("#worth summary");
await page.fill("#worth input[name=value]", "50");
await page.selectOption("#worth select", "part_missing");
await page.fill("#worth input[name=area]", "70");
await page.click("#worth button");
await page.waitForFunction(() => document.querySelector("#worth .lines").textContent.length > 50);
await page.screenshot({ path: `${shots}/6-worth.png`, fullPage: true });
report((await page.textContent("#worth .lines")).includes("€50") || (await page.textContent("#worth .lines")).includes("EUR 50"),
  "most of a 50 is worth a 50, likely, at a bank");
report(await serious(page) === 0, "no serious fault of access with a damaged note");

await begin(page, "50");
await page.screenshot({ path: `${shots}/2-check.png` });
report(await serious(page) === 0, "no serious fault of access while a check is open");
const small = await targets(page);
for (const each of small) console.log(`# small: ${each}`);
report(small.length === 0, "every target is 48 pixels or more");
report(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), "nothing is cut off at 800 by 600");
report((await page.getAttribute("main img", "alt")).length > 5, "the picture has words");

const first = await page.textContent("#step");
const waited = await page.evaluate(() => new Promise((resolve) => {
  const made = document.querySelector("[data-answer='1']");
  const begin = performance.now();
  new MutationObserver(() => resolve(performance.now() - begin)).observe(made, { attributes: true });
  made.click();
}));
report(waited < 100, "a tap is seen within 100 ms");
await page.waitForFunction((old) => document.getElementById("step").textContent !== old, first);
await page.keyboard.press("b");
await page.waitForFunction((old) => document.getElementById("step").textContent === old, first);
report(true, "back shows the check before");
await page.keyboard.press("1");
await page.waitForFunction((old) => document.getElementById("step").textContent !== old, first);
report((await state(page)).case.answers.length === 1, "the same answer again is one answer");
await page.keyboard.press("7");
report((await state(page)).case.answers.length === 1, "a wrong key does nothing");

await page.reload();
await page.waitForSelector("[data-answer]");
report((await state(page)).case.answers.length === 1, "a reload loses nothing");
await page.keyboard.press("b");
await page.waitForFunction((old) => document.getElementById("step").textContent === old, first);
report(true, "and back still works");
await page.reload();
await page.waitForSelector("[data-answer]");

const second = await screen();
const turn = (await state(page)).turn;
const both = await Promise.all([page, second].map((each) => each.evaluate(async (seen) => {
  const now = await (await fetch("/state")).json();
  const reply = await fetch("/answer", { method: "POST", headers: { "X-Checkout": "1" },
    body: JSON.stringify({ case: now.case.case, turn: seen, check: now.case.step.check, answer: "as_it_should_be" }) });
  return reply.status;
}, turn)));
report(both.sort().join() === "200,409", "of two screens that answer at once one is turned away");
report((await state(page)).case.answers.length === 2, "and one answer counts");
await second.close();

for (let i = 0; i < 12 && (await page.$("[data-answer]")); i += 1) await answer(page, "2");
await page.screenshot({ path: `${shots}/3-advice.png` });
report((await state(page)).case.step.advice === "set_aside", "what differs twice is not taken");
report(await serious(page) === 0, "no serious fault of access with an advice");
report(!(await page.content()).match(/counterfeit|fake/i), "no word that judges note or customer");
await page.click(`text=${await page.evaluate(async () => (await (await fetch("/messages?keys=till.disposition.not_taken")).json())["till.disposition.not_taken"])}`);
await page.waitForSelector("#last");
report((await state(page)).last.record > 1, "the end is on record");
const receipt = await page.evaluate(async () => (await fetch(document.querySelector("a.button").href)).text());
report(receipt.includes("<html"), "there is a receipt");

for (const language of ["de", "fr", "it", "es", "hi"]) {
  await page.selectOption("#language", language);
  await page.waitForFunction((wanted) => document.documentElement.lang === wanted, language);
  await page.waitForSelector("input[name=value]");
  await begin(page, "20");
  const said = await page.textContent("main");
  report(!/screen\.|till\.|undefined|\{/.test(said), `every word is there in ${language}`);
  await page.screenshot({ path: `${shots}/4-${language}.png`, fullPage: true });
  for (let i = 0; i < 12 && (await page.$("[data-answer]")); i += 1) await answer(page, "1");
  report((await state(page)).case.step.advice === "take", `a good note is taken in ${language}`);
  const before = (await state(page)).turn;
  await page.click("button.lead");
  await turned(page, before);
}

await page.emulateMedia({ colorScheme: "dark" });
await page.setViewportSize({ width: 1920, height: 1080 });
await page.screenshot({ path: `${shots}/5-dark.png` });
report(await serious(page) === 0, "no serious fault of access in the dark");
for (const fault of faults) console.log(`# ${fault}`);
report(faults.length === 0, "no error in the page");
await browser.close();
finish();
