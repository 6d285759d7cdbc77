import type { Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import type { RunningDesk } from "../../src/desk/start-desk.ts";
import type { Log } from "../../src/log/log.ts";
import type { SiteCondition } from "../../src/site/condition.ts";
import type { Warning } from "../../src/warning/warning.ts";
import { deskOnLog, emptyLog } from "../desk/railroad.ts";
import { MINUTE_MS, START_MS, warning } from "../desk/samples.ts";
import { cutOff, goTo, openBrowser, shot, type TestBrowser, visibleText } from "./browser.ts";

/** What a reader at three in the morning is told, and not told, half an hour after a reading. Everything invented. */

const NOW_MS = START_MS + 30 * MINUTE_MS;
const PLACE = "car 47 from the head, first axle of its rear truck, right side in the direction of travel (axle 187)";

const LIMIT = warning({
  id: "W-limit",
  level: "limit",
  riseF: 181,
  crossing: null,
  setOut: null,
  place: PLACE,
  advice: `Stop train Q118. Inspect ${PLACE}. It reads 181 °F above ambient at Coldrill; the limit is 170 °F. First set-out place ahead, if it is safe to move: near by.`,
});
const WARN = warning({ id: "W-warn", train: "M77", journey: "J-2", riseF: 120 });
/** The longest that a row may have to hold. */
const LONG = warning({
  id: "W-long",
  level: "limit",
  train: "T00041",
  journey: "J-3",
  riseF: 144,
  advice: `Stop train T00041 and inspect ${PLACE}, unless that was done. It reached a limit at Coldrill, with 182.4 °F above ambient. It reads 144.4 °F above ambient at Dunmere now; a lower reading does not clear it.`,
  place: PLACE,
});
/** One whose car is gone from its train: the longest thing that there is to do. */
const GONE = warning({
  id: "W-gone",
  level: "limit",
  train: "T00031",
  journey: "J-4",
  riseF: null,
  advice: `Car 47 from the head is no longer in train T00031 at Dunmere: it was set out, or its axles were not counted. Find out where it is. Have it inspected before it moves on: ${PLACE}. It read 176.3 °F above ambient at Coldrill.`,
  place: PLACE,
});
/** Under its own limit, and far hotter than the other end of its axle. */
const AXLE = warning({
  id: "W-axle",
  level: "limit",
  train: "T00052",
  journey: "J-5",
  riseF: 145,
  slopeFPerMile: 0,
  axleDifference: { overF: 120.9, limitF: 115 },
  advice: `Stop train T00052. Inspect ${PLACE}. It reads 145.0 °F above ambient at Coldrill, far hotter than the other end of its axle.`,
  place: PLACE,
});
/** At 45 mph some 22 miles on by now: these two still have their set-out places ahead. */
const AHEAD = [40, 30].map((miles) =>
  warning({
    id: `W-ahead-${miles}`,
    train: `A${miles}`,
    journey: `J-a${miles}`,
    crossing: { miles: 50, low: 44, high: 58, minutes: 66.7, milepost: 94, line: "Alder Line", chance: 0.3 },
    setOut: { place: "q", name: `Siding ${miles}`, milepost: 44 + miles, miles, carLengths: 10 },
  }),
);
const DECIDE = [LIMIT, WARN, LONG, GONE, AXLE, ...AHEAD];
/** The same where the row is lower: somebody put it aside. */
const ASIDE = { ...AXLE, id: "W-aside", train: "T00053", journey: "J-6", state: "out-of-service" } as const;
const WATCHES = Array.from({ length: 60 }, (_, i) =>
  warning({
    id: `W-watch-${i}`,
    level: "watch",
    train: `T${i}`,
    journey: `J-w${i}`,
    heat: i % 2 === 0 ? "brakes" : "bearing",
    setOut: null,
  }),
);

function condition(over: Partial<SiteCondition>): SiteCondition & { type: string } {
  return {
    type: "site-condition",
    id: "C-1",
    version: 1,
    time: new Date(START_MS).toISOString(),
    site: "dunmere-53",
    device: "",
    kind: "out-of-service",
    state: "raised",
    raisedAt: new Date(START_MS - 60 * MINUTE_MS).toISOString(),
    evidence: [],
    words: "dunmere-53 was taken out of service at 2026-03-04T11:00:00.000Z.",
    advice: "Nothing that it sends counts.",
    alarm: "out-of-service",
    priority: "information",
    ...over,
  };
}

const CONDITIONS = [
  condition({}),
  condition({ id: "C-2", site: "orrin-128", device: "1/right", kind: "cold-scanner", alarm: "unacknowledged", priority: "high" }),
];

let log: Log;
let desk: RunningDesk;
let browser: TestBrowser;
let page: Page;

beforeAll(async () => {
  log = emptyLog();
  const all: Warning[] = [...DECIDE, ...WATCHES, ASIDE];
  await log.append(all.map((one) => ({ topic: "warnings", key: one.id, value: JSON.stringify(one) })));
  await log.append(CONDITIONS.map((one) => ({ topic: "site-conditions", key: one.id, value: JSON.stringify(one) })));
  desk = await deskOnLog(log, NOW_MS);
  browser = await openBrowser(desk.url);
  page = await browser.person("Ada", "administer");
  await page.locator(".row.limit").first().waitFor();
});
afterAll(async () => {
  await browser.close();
  await desk.close();
  await log.close();
});

describe("half an hour after a reading", () => {
  test("what the advice called ahead is said to lie behind the train, and at the limit no next place is offered", async () => {
    await goTo(page, `#/warning/${LIMIT.id}`, /Q118/);
    const since = page.locator(".advice .since");
    await since.waitFor();
    expect(await visibleText(since)).toMatch(
      /^Said 30 min ago\. Unless the train stopped, .+ behind it by now\. The limit was reached, so no set-out place is in time: stop the train\./,
    );
    const first = page.getByRole("region", { name: "Ahead of the train" }).locator("tbody tr").filter({ hasText: "set-out place" }).first();
    expect(await visibleText(first)).toMatch(/behind the train unless it stopped/);
  });

  test("a reading over the limit stands beside no chance of reaching it", async () => {
    await goTo(page, `#/warning/${LIMIT.id}`, /Q118/);
    await page.getByText("Chances, as the engine reckons them").waitFor();
    expect(await page.getByText("reaches the limit before the next site").count()).toBe(0);
    expect(await page.locator(".curve .fan").count()).toBe(0);
    await goTo(page, `#/warning/${WARN.id}`, /M77/);
    await page.getByText("reaches the limit before the next site").waitFor();
  });
});

describe("Now", () => {
  test("stands in the order of what is left to act on: limits, then the nearest set-out place, each with miles and minutes", async () => {
    await goTo(page, "#/now", /decide now/);
    await expect
      .poll(() => page.locator(".row.decide.warn").evaluateAll((rows) => rows.map((row) => row.getAttribute("data-row"))))
      .toEqual(["W-warn", "W-ahead-30", "W-ahead-40"]);
    const levels = await page.locator(".row.decide .c-level").allTextContents();
    expect(levels).toEqual(["limit", "limit", "limit", "limit", "warn", "warn", "warn"]);
    const axle = await visibleText(page.locator('[data-row="W-axle"] .c-heat'));
    expect(axle).toMatch(/^145 °F\s+120\.9 °F over the other end of its axle, limit 115 °F$/);
    expect((await visibleText(page.locator(".now"))).match(/Rises are above ambient/g)).toHaveLength(1);
    const row = await visibleText(page.locator('[data-row="W-ahead-30"]'));
    for (const part of [
      /warn/,
      /Train A30\s+car 47, axle 187, right/,
      /103 °F\s+limit 170 °F\s+\+5\.0 °F\/mi\s+30 % before the next site/,
      /Set out at Siding 30: 7\.5 mi, 10 min left/,
      /limit could be reached 44 mi to 58 mi on, from 06:58/,
      /not acknowledged\s+nobody has it\s+Coldrill, 30 min ago/,
    ])
      expect(row).toMatch(part);
    // The same as a picture: the train between the site and the place, the place before the stretch where the limit could be reached.
    const strip = page.locator('[data-row="W-ahead-30"] .strip-miles');
    const x = async (part: string) => (await strip.locator(part).boundingBox())!.x;
    const [train, place, reach] = [await x(".train"), await x(".set-out"), await x(".reach")];
    expect(train).toBeLessThan(place);
    expect(place).toBeLessThan(reach);
  });
});

describe("a site out of service", () => {
  test("stands beside the warning that counts on it, and on the line", async () => {
    await goTo(page, `#/warning/${LIMIT.id}`, /Q118/);
    const row = page.getByRole("region", { name: "Ahead of the train" }).locator("tr").filter({ hasText: "Dunmere" });
    await expect.poll(() => row.filter({ hasText: "site: out of service since 05:00" }).count()).toBe(1);
    await goTo(page, "#/line", /The line/);
    await page.locator(".unheard.out-of-service").first().waitFor({ state: "attached" });
    await page.locator(".unheard-word", { hasText: "out of service" }).first().waitFor({ state: "attached" });
  });
});

describe("words", () => {
  test("sites go by their names, times by the railroad's clocks, conditions and devices by what people call them", async () => {
    for (const [hash, heading] of [
      ["#/now", /decide now/],
      ["#/sites", /needs? somebody/],
      ["#/handover", /Handover/],
      ["#/line", /The line/],
    ] as const) {
      await goTo(page, hash, heading);
      await page.getByText("scanner sees next to nothing").first().waitFor();
      expect(await visibleText(page.locator("main")), hash).not.toMatch(/cold-scanner|out-of-service|dunmere-53|1\/right|\d{4}-\d\d-\d\dT/);
    }
  });
});

describe("somebody who reads °C", () => {
  test("finds no °F in what is said of a bearing", async () => {
    const uma = await browser.person("Uma", "view");
    await uma.locator(".person summary").click();
    await uma.getByLabel("°C").check();
    for (const [hash, heading] of [
      ["#/now", /decide now/],
      [`#/warning/${LIMIT.id}`, /Q118/],
    ] as const) {
      await goTo(uma, hash, heading);
      await uma.locator(".row, .big").first().waitFor();
      expect(await visibleText(uma.locator("main")), hash).toMatch(/94(\.\d)? °C/);
      expect(await visibleText(uma.locator("main")), hash).not.toContain("°F");
    }
    await uma.context().close();
  });
});

describe("a row of Now", () => {
  for (const [what, viewport] of [
    ["on a desk", { width: 1440, height: 900 }],
    ["on a small desk", { width: 1024, height: 768 }],
    ["on a phone", { width: 390, height: 844 }],
  ] as const) {
    test(`holds all that it says, ${what}`, async () => {
      const person = await browser.person(`Rae ${what}`, "act", { viewport });
      await person.locator(".row.decide").first().waitFor();
      expect(await cutOff(person)).toEqual([]);
      await shot(person, `rows-${viewport.width}`);
      await person.evaluate("scrollTo(0, document.body.scrollHeight)");
      await person.locator(".row.aside").last().waitFor();
      expect(await cutOff(person)).toEqual([]);
      await person.evaluate("scrollTo(0, 0)");
      await person.locator(".row.decide").first().waitFor();
      // The measure itself sees a word that does not fit, in a line that is cut as in one that is clamped.
      await person.evaluate(`document.querySelector(".row .c-train b").textContent = "Train ".repeat(200)`);
      await person.evaluate(`document.querySelector(".row .c-left b").textContent = "Stop the train. ".repeat(60)`);
      expect((await cutOff(person)).length).toBeGreaterThanOrEqual(2);
      await person.context().close();
    });
  }

  test("is on paper with its state and whoever has it, and every other row too", async () => {
    await goTo(page, "#/now", /decide now/);
    const height = (await page.evaluate("innerHeight")) as number;
    const all = DECIDE.length + WATCHES.length + 1;
    expect(await page.locator(".row").count()).toBeLessThan(all);
    await page.emulateMedia({ media: "print" });
    await page.setViewportSize({ width: 720, height });
    await page.evaluate("dispatchEvent(new Event('beforeprint'))");
    await expect.poll(() => page.locator(".row").count()).toBe(all);
    const state = await page.locator(".row .c-state").first().boundingBox();
    expect((state?.x ?? 0) + (state?.width ?? 0)).toBeLessThanOrEqual(720);
    expect(state?.width).toBeGreaterThan(80);
    await shot(page, "print-now", true);
    expect(await cutOff(page)).toEqual([]);
    expect(await page.locator(".not-printed").count()).toBe(0);
    await page.evaluate("dispatchEvent(new Event('afterprint'))");
    await page.emulateMedia({ media: "screen" });
  });
});
