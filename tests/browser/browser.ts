import { mkdirSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { type BrowserContext, type BrowserContextOptions, chromium, type Locator, type Page } from "playwright-core";
import { expect } from "vitest";

/** A real browser for the tests of the pages; screenshots for people to look at go to out/desk/. */

const CHROMIUM = process.env["CHROMIUM"] ?? "/usr/bin/chromium";
const FLAGS = [
  "--no-sandbox",
  "--disable-gpu",
  "--disable-quic",
  "--no-first-run",
  "--disable-background-networking",
  "--disable-component-update",
  "--disable-sync",
];
const SHOTS = "out/desk";
const AXE = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

export interface TestBrowser {
  /** A person with a browser of their own, signed in. */
  person(name: string, role: string, options?: BrowserContextOptions): Promise<Page>;
  close(): Promise<void>;
}

export async function openBrowser(url: string): Promise<TestBrowser> {
  mkdirSync(SHOTS, { recursive: true });
  const folder = mkdtempSync(join(tmpdir(), "desk-browser-"));
  const browser = await chromium.launch({
    executablePath: CHROMIUM,
    headless: true,
    args: FLAGS,
    env: { ...process.env, HOME: folder } as Record<string, string>,
  });
  const contexts: BrowserContext[] = [];
  return {
    person: async (name, role, options = {}) => {
      const context = await browser.newContext({ viewport: { width: 1440, height: 900 }, ...options });
      contexts.push(context);
      const page = await context.newPage();
      page.on("pageerror", (error) => {
        throw error;
      });
      await page.goto(url);
      await page.fill("#name", name);
      await page.selectOption("#role", role);
      await page.click("button[type=submit]");
      await page.waitForSelector(".bar");
      return page;
    },
    close: async () => {
      for (const context of contexts) await context.close();
      await browser.close();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

export async function goTo(page: Page, hash: string, heading: RegExp): Promise<void> {
  await page.evaluate(`location.hash = ${JSON.stringify(hash)}`);
  await page.getByRole("heading", { level: 1, name: heading }).waitFor();
}

export async function shot(page: Page, name: string, fullPage = false): Promise<void> {
  await page.screenshot({ path: `${SHOTS}/${name}.png`, fullPage });
}

/** What of it can be read on the screen; hidden text does not count. */
export function visibleText(of: Locator): Promise<string> {
  // biome-ignore lint/performance/useDomNodeTextContent: only what is rendered is asked for
  return of.innerText();
}

/** Texts of rows that are not wholly seen: the row itself, or anything in it that clips or clamps what it holds. */
export async function cutOff(person: Page): Promise<string[]> {
  return person.locator(".row").evaluateAll((rows) =>
    rows.flatMap((row) => {
      const bottom = row.getBoundingClientRect().bottom;
      return [row, ...row.querySelectorAll("span, b")]
        .filter((one) => {
          const isClipped = getComputedStyle(one).overflow !== "visible";
          const isCut = isClipped && (one.scrollHeight > one.clientHeight + 1 || one.scrollWidth > one.clientWidth + 1);
          return isCut || one.getBoundingClientRect().bottom > bottom + 1;
        })
        .map((one) => `${row.getAttribute("data-row")} ${one.className || one.tagName}: ${one.textContent}`);
    }),
  );
}

interface Violation {
  id: string;
  help: string;
  nodes: { html: string; failureSummary?: string }[];
}

/** No violation of WCAG 2.2 A and AA, nor of axe's own good practice. */
export async function expectAccessible(page: Page, what: string): Promise<void> {
  await page.evaluate(AXE);
  const found = (await page.evaluate(
    `axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }).then((r) => r.violations)`,
  )) as Violation[];
  const told = found.map(
    ({ id, help, nodes }) =>
      `${id}: ${help}\n${nodes
        .slice(0, 3)
        .map((node) => `    ${node.html.slice(0, 200)}\n    ${node.failureSummary ?? ""}`)
        .join("\n")}`,
  );
  expect(told, what).toEqual([]);
}
