// The manager's page in a headless browser: light, dark, on paper, by keyboard, and without scripts.
//   node report.mjs PAGE BROWSER SHOTS      (with playwright-core and axe-core beside it)
import { finish, launch, report, serious } from "./browser.mjs";

const [path, executablePath, shots] = process.argv.slice(2);
const browser = await launch(executablePath);
const faults = [];

async function open(options) {
  const page = await (await browser.newContext({ viewport: { width: 1200, height: 900 }, ...options })).newPage();
  page.on("pageerror", (fault) => faults.push(fault.message));
  page.on("request", (request) => { if (!request.url().startsWith("file:")) faults.push(`asks for ${request.url()}`); });
  await page.goto(`file://${path}`);
  return page;
}

const page = await open({});
await page.screenshot({ path: `${shots}/report-light.png`, fullPage: true });
report(await serious(page) === 0, "no serious fault of access");
report((await page.locator("main h2").first().textContent()) === "At a glance", "the verdict comes first");
report(await page.locator("#chart-days canvas").count() === 1 && await page.locator("#chart-notes canvas").count() === 1, "both charts are drawn");
const first = () => page.locator("#lanes tbody tr").first().locator("th").textContent();
await page.locator("#lanes thead button").first().focus();
await page.keyboard.press("Enter");
const down = await first();
await page.keyboard.press("Enter");
report(down === "lane 4" && await first() === "lane 1", "a table sorts both ways by keyboard");
report(await page.locator("#lanes thead th").first().getAttribute("aria-sort") === "ascending", "and says so");
await page.setViewportSize({ width: 360, height: 800 });
report(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), "a narrow screen scrolls tables only");
const pdf = await page.pdf({ format: "A4", path: `${shots}/report.pdf` });
report(pdf.length > 20000, "it prints on A4");

const dark = await open({ colorScheme: "dark" });
await dark.screenshot({ path: `${shots}/report-dark.png`, fullPage: true });
report(await serious(dark) === 0, "no serious fault of access in the dark");

const plain = await open({ javaScriptEnabled: false });
report(await plain.locator(".signals li").count() >= 3, "without scripts it names what stands out");
report(await plain.locator("table tbody tr").count() > 50 && !(await plain.locator("figure").first().isVisible()), "and shows its tables, and no empty chart");
for (const fault of faults) console.log(`# ${fault}`);
report(faults.length === 0, "no error, and nothing is asked from elsewhere");
await browser.close();
finish();
