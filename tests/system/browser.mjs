// What the page tests share: a headless browser, TAP lines, and how accessible a page is. The packages are those of the folder
// that the test runs in.
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";

const require = createRequire(`${process.cwd()}/`);
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");

export const launch = (executablePath) => require("playwright-core").chromium.launch({ executablePath, args: ["--no-sandbox"] });

let number = 0;
let failed = 0;
export function report(good, name) {
  number += 1;
  if (!good) failed += 1;
  console.log(`${good ? "ok" : "not ok"} ${number} - ${name}`);
}

export function finish() {
  console.log(`1..${number}`);
  process.exit(failed === 0 ? 0 : 1);
}

// A content-security-policy forbids scripts that are put into a page: this one comes in through the debugger.
export async function serious(page) {
  await page.evaluate(axe);
  const found = await page.evaluate(() => axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa"] }));
  for (const each of found.violations) console.log(`# ${each.impact} ${each.id}: ${each.nodes.map((node) => node.html.slice(0, 120)).join(" | ")}`);
  return found.violations.filter((each) => each.impact === "serious" || each.impact === "critical").length;
}
