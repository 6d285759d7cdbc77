import { readFileSync } from "node:fs";
import type { Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import type { RunningDesk } from "../../src/desk/start-desk.ts";
import type { Log } from "../../src/log/log.ts";
import { deskOnLog, emptyLog } from "../desk/railroad.ts";
import { START_MS } from "../desk/samples.ts";
import { goTo, openBrowser, shot, type TestBrowser, visibleText } from "./browser.ts";
import { fillWith, oneOfMany } from "./many.ts";

const ROWS = 10_000;
/** However many there are, the page holds what can be seen and a little more. */
const MOST_IN_PAGE = 80;
const NOW_MS = START_MS + 11 * 3_600_000;

let log: Log;
let desk: RunningDesk;
let browser: TestBrowser;
let page: Page;

beforeAll(async () => {
  log = emptyLog();
  await fillWith(log, ROWS);
  desk = await deskOnLog(log, NOW_MS);
  browser = await openBrowser(desk.url);
  page = await browser.person("Ada", "act");
});
afterAll(async () => {
  await browser.close();
  await desk.close();
  await log.close();
});

describe("ten thousand open warnings", () => {
  test("are all there, the most urgent at once, and the page stays small", async () => {
    await page.locator(".row.limit").first().waitFor();
    await page.getByText(/6,?000 to watch/).waitFor({ timeout: 30_000 });
    expect(await page.locator(".row").count()).toBeLessThan(MOST_IN_PAGE);
    await shot(page, "ten-thousand");
    await page.evaluate("scrollTo(0, document.body.scrollHeight)");
    await page.locator(".row.watch").last().waitFor();
    expect(await page.locator(".row").count()).toBeLessThan(MOST_IN_PAGE);
  });

  test("on paper are the most urgent ones, and how many are not on it and where they are; the file has them all", async () => {
    await page.emulateMedia({ media: "print" });
    await page.evaluate("dispatchEvent(new Event('beforeprint'))");
    const left = page.locator(".not-printed");
    await left.waitFor({ state: "visible" });
    const printed = await page.locator(".row").count();
    expect(printed).toBeGreaterThan(200);
    expect(printed).toBeLessThan(400);
    expect(await visibleText(left)).toBe(
      `${ROWS - printed} more open warnings are not on this paper. All of them are on Now, and as a file under Handover, CSV.`,
    );
    const last = (await page.locator(".row").last().boundingBox())!;
    expect((await left.boundingBox())!.y).toBeGreaterThanOrEqual(last.y + last.height);
    await page.evaluate("dispatchEvent(new Event('afterprint'))");
    await page.emulateMedia({ media: "screen" });
    await left.waitFor({ state: "detached" });
    await goTo(page, "#/handover", /Handover/);
    const download = page.waitForEvent("download");
    await page.getByRole("link", { name: "CSV" }).click();
    const file = readFileSync(await (await download).path(), "utf8");
    expect(file.split("\r\n").filter((line) => line.split(",")[1] === "open")).toHaveLength(ROWS);
    await goTo(page, "#/now", /decide now/);
    await page.locator(".row.limit").first().waitFor();
  });

  test("change under sixty updates a second, and the last word is the one that stands", async () => {
    await page.evaluate("scrollTo(0, 0)");
    await page.mouse.move(2, 2);
    const first = page.locator(".row.limit").first();
    await first.waitFor();
    const number = Number((await first.getAttribute("data-row"))!.slice(2));
    const VERSIONS = 120;
    for (let version = 2; version <= VERSIONS; version++) {
      const one = oneOfMany(number, version);
      const other = oneOfMany((number * 7 + version * 13) % ROWS, version);
      await log.append(
        [one, other]
          .filter((each, i) => i === 0 || each.id !== one.id)
          .map((each) => ({ topic: "warnings", key: each.id, value: JSON.stringify(each) })),
      );
      await new Promise((resolve) => setTimeout(resolve, 16));
    }
    const last = oneOfMany(number, VERSIONS);
    await page.locator(`[data-row="${last.id}"] .c-heat`).getByText(`${last.riseF} °F`).waitFor({ timeout: 10_000 });
    const { rows } = desk.desk.state.board.size === ROWS ? { rows: ROWS } : { rows: -1 };
    expect(rows).toBe(ROWS);
  });
});
