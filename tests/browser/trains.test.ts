import type { Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import type { RunningDesk } from "../../src/desk/start-desk.ts";
import type { Line } from "../../src/desk/views/line-shape.ts";
import type { StripLeg } from "../../src/desk/views/strip-shape.ts";
import type { Train } from "../../src/desk/views/train-shape.ts";
import { Client } from "../desk/client.ts";
import { deskOnDay } from "../desk/railroad.ts";
import { goTo, openBrowser, shot, type TestBrowser, visibleText } from "./browser.ts";

/** What is drawn of trains: on the line by time and distance, and vehicle by vehicle with the warmth of their bearings. */

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
/** Three hours of the recorded day: 21:00 in the evening before, by the railroad's clocks. */
const NOW_MS = Date.parse("2026-03-04T03:00:00Z");
const ZONE_MS = -6 * HOUR_MS;
let nowMs = NOW_MS;
let desk: RunningDesk;
let close: () => Promise<void>;
let browser: TestBrowser;
let page: Page;
let reader: Client;

beforeAll(async () => {
  ({ desk, close } = await deskOnDay(NOW_MS, { clock: { nowMs: () => nowMs, speed: 1 } }));
  browser = await openBrowser(desk.url);
  page = await browser.person("Ada", "act");
  reader = new Client(desk.url);
  await reader.signIn("Reader", "view");
});
afterAll(async () => {
  await browser.close();
  await close();
});

const table = () => page.getByRole("region", { name: "Trains in this window" });

/** The window that the page says it shows. */
async function shownWindow(): Promise<{ fromMs: number; toMs: number }> {
  const words = await visibleText(table().locator("caption"));
  const [fromMs, toMs] = [...words.matchAll(/(\d{4}-\d\d-\d\d) (\d\d:\d\d) \(/g)].map(
    ([, day, time]) => Date.parse(`${day}T${time}Z`) - ZONE_MS,
  );
  return { fromMs: fromMs!, toMs: toMs! };
}

async function hoursShown(): Promise<number> {
  const { fromMs, toMs } = await shownWindow();
  return Math.round((toMs - fromMs) / HOUR_MS);
}

/** Words and places of the times on the axis of the first band. */
async function ticks(): Promise<{ words: string; x: number }[]> {
  return page
    .locator(".time-distance .axes")
    .first()
    .locator("text")
    .evaluateAll((texts) => texts.map((text) => ({ words: text.textContent ?? "", x: Number(text.getAttribute("x")) })));
}

/** The time that stands at a place between two ticks, by the ticks alone. */
function timeAt(x: number, axis: readonly { words: string; x: number }[], fromMs: number): number {
  const [first, last] = [axis[0]!, axis.at(-1)!];
  const day = Math.floor((fromMs + ZONE_MS) / DAY_MS) * DAY_MS - ZONE_MS;
  const timeOf = (words: string) => {
    const [hour, minute] = words.split(":").map(Number) as [number, number];
    const ms = day + hour * HOUR_MS + minute * 60_000;
    return ms < fromMs - 60_000 ? ms + DAY_MS : ms;
  };
  const [a, b] = [timeOf(first.words), timeOf(last.words)];
  return a + ((x - first.x) / (last.x - first.x)) * (b - a);
}

/** Trains of the corridor shown that the desk knows of in a window. */
async function known({ fromMs, toMs }: { fromMs: number; toMs: number }): Promise<Line["points"]> {
  const line = await reader.json<Line>(`/api/line?fromMs=${fromMs}&toMs=${toMs}`);
  const name = await visibleText(page.getByRole("group", { name: "Corridor" }).locator("[aria-pressed=true]"));
  const corridor = line.corridors.find((one) => one.name === name)!.id;
  return line.points.filter((one) => one.corridor === corridor);
}

async function someTrain(): Promise<string> {
  const { points } = await reader.json<Line>(`/api/line?fromMs=${NOW_MS - 2 * HOUR_MS}&toMs=${NOW_MS}`);
  return points[0]!.journey;
}

const journeys = (points: Line["points"]) => [...new Set(points.map((one) => one.journey))];

describe("the line", () => {
  test("zooms: the axis and the trains are those of the hours chosen, each dot at its time", async () => {
    await goTo(page, "#/line", /The line/);
    const counts: number[] = [];
    for (const hours of [2, 8]) {
      await page.getByRole("button", { name: `${hours} h`, exact: true }).click();
      await expect.poll(hoursShown).toBe(hours);
      const shown = await shownWindow();
      const points = await known(shown);
      const axis = await ticks();
      expect(axis.length).toBeGreaterThan(3);
      // A tick at each end's side: the axis spans what the table says.
      expect(timeAt(axis.at(-1)!.x, axis, shown.fromMs) - timeAt(axis[0]!.x, axis, shown.fromMs)).toBeGreaterThan(0.7 * hours * HOUR_MS);
      expect(await table().locator("tbody tr").count()).toBe(journeys(points).length);
      const dots = await page.locator(".train-line circle").evaluateAll((all) => all.map((dot) => Number(dot.getAttribute("cx"))));
      const drawn = dots.map((x) => timeAt(x, axis, shown.fromMs)).sort((a, b) => a - b);
      const read = [...new Set(points.map((one) => one.timeMs))].sort((a, b) => a - b);
      for (const ms of read) expect(Math.min(...drawn.map((one) => Math.abs(one - ms)))).toBeLessThan(60_000);
      for (const ms of drawn) expect(Math.min(...read.map((one) => Math.abs(one - ms)))).toBeLessThan(60_000);
      counts.push(await page.locator(".train-line").count());
    }
    expect(counts[1]).toBeGreaterThan(counts[0]!);
  });

  test("shows the next hours ahead: shaded, with where trains are expected, dotted", async () => {
    await goTo(page, "#/line", /The line/);
    await page.getByRole("button", { name: "4 h", exact: true }).click();
    await expect.poll(hoursShown).toBe(4);
    const now = Number(/M([\d.]+)/.exec((await page.locator(".now-line").getAttribute("d"))!)![1]);
    const shaded = page.locator(".time-distance .ahead").first();
    expect(Number(await shaded.getAttribute("x"))).toBeCloseTo(now, 0);
    expect(Number(await shaded.getAttribute("width"))).toBeGreaterThan(100);
    const ends = await page
      .locator(".expected path")
      .evaluateAll((all) => all.map((path) => Number(/L([\d.]+)/.exec(path.getAttribute("d") ?? "")?.[1])));
    expect(ends.some((x) => x > now)).toBe(true);
    const dash = await page
      .locator(".expected path")
      .first()
      .evaluate((path) => getComputedStyle(path).strokeDasharray);
    expect(dash).toMatch(/^\d+px, \d+px$/);
  });

  test("a day later, a day back: yesterday's trains, by yesterday's dates, and back to now", async () => {
    nowMs = NOW_MS + DAY_MS;
    await page.reload();
    await goTo(page, "#/line", /The line/);
    await expect.poll(async () => (await shownWindow()).toMs).toBeGreaterThan(nowMs);
    expect(await page.locator(".train-line").count()).toBe(0);
    await page.getByRole("button", { name: "◀ a day" }).click();
    await page.locator(".train-line polyline").first().waitFor();
    const back = await shownWindow();
    expect(Math.abs(back.toMs - NOW_MS)).toBeLessThan(5 * 60_000);
    expect(await visibleText(table().locator("caption"))).toMatch(/^From 2026-03-03 17:\d\d \(23:\d\d UTC\) to 2026-03-03 2[01]:\d\d \(/);
    expect(await page.locator(".now-line").count()).toBe(0);
    expect(await table().locator("tbody tr").count()).toBe(journeys(await known(back)).length);
    await shot(page, "line-day-back", true);
    await page.getByRole("button", { name: "◀ earlier" }).click();
    await expect.poll(async () => (await shownWindow()).toMs).toBe(back.toMs - 2 * HOUR_MS);
    await page.getByRole("button", { name: "later ▶" }).click();
    await expect.poll(async () => (await shownWindow()).toMs).toBe(back.toMs);
    await page.getByRole("button", { name: "now", exact: true }).click();
    await expect.poll(async () => (await shownWindow()).toMs).toBeGreaterThan(nowMs);
    nowMs = NOW_MS;
    await page.reload();
  });

  test("is a table too, that the keyboard walks and a screen reader names: train, when and where last heard, what is expected", async () => {
    await goTo(page, "#/line", /The line/);
    await page.getByRole("button", { name: "8 h", exact: true }).click();
    await expect.poll(hoursShown).toBe(8);
    const headings = await table().getByRole("columnheader").allInnerTexts();
    expect(headings).toEqual(["train", "last heard", "at", "axles", "sites", "expected next", "warnings"]);
    const last = (await known(await shownWindow())).reduce((a, b) => (b.timeMs > a.timeMs ? b : a));
    const row = table().getByRole("row").nth(1);
    expect(await visibleText(row.getByRole("rowheader"))).toBe(last.train ?? "without an id");
    expect(await visibleText(row)).toMatch(/\d\d:\d\d \(\d\d:\d\d UTC\), .*(ago|just now)/);
    await table().focus();
    await page.keyboard.press("Tab");
    expect(await page.evaluate("document.activeElement.textContent")).toBe(last.train ?? "without an id");
    await page.keyboard.press("Enter");
    await page.getByRole("heading", { level: 1, name: `Train ${last.train}` }).waitFor();
  });
});

/** Twelve cars of four axles each. */
const AXLES = 48;
const BASE_F = 20;

/** A leg of an invented train; `left` and `right` change some of its bearings. */
function leg(pass: string, over: Partial<StripLeg>, hot: (row: number, side: "left" | "right") => number | null): StripLeg {
  const side = (name: "left" | "right") => Array.from({ length: AXLES }, (_, row) => hot(row, name) ?? BASE_F);
  const vehicles = Array.from({ length: AXLES / 4 }, (_, i) => ({
    kind: "car" as const,
    ordinalOfKind: i + 1,
    id: null,
    firstRow: i * 4,
    axles: 4,
    confidence: 1,
  }));
  const place = { site: "coldrill-44", name: pass, timeMs: NOW_MS, flipped: false, directionDoubted: false };
  return {
    pass,
    ...place,
    medianF: [BASE_F, BASE_F],
    vehicles,
    axles: AXLES,
    left: side("left"),
    right: side("right"),
    marked: [],
    ...over,
  };
}

interface Bar {
  side: "left" | "right";
  row: number;
  high: number;
}

/** What is drawn of a leg, without its colours: a bar for each bearing, where it stands and how far it reaches. */
async function bars(name: string): Promise<Bar[]> {
  const d = await page
    .getByRole("region", { name: `Strip of vehicles at ${name}` })
    .locator("path.heat")
    .evaluateAll((paths) => paths.map((path) => path.getAttribute("d") ?? "").join(""));
  const drawn = [...d.matchAll(/M([\d.]+) ([\d.]+)h[\d.]+v([\d.]+)/g)].map(([, x, y, high]) => ({
    x: Number(x),
    y: Number(y),
    high: Number(high),
  }));
  const xs = [...new Set(drawn.map(({ x }) => x))].sort((a, b) => a - b);
  // Left bars grow up from the middle, right ones down: those of one side share the edge at the middle.
  const middle = Math.max(...drawn.map(({ y }) => y));
  return drawn.map(({ x, y, high }) => ({ side: y === middle ? "right" : "left", row: xs.indexOf(x), high }));
}

describe("the strip of a train", () => {
  test("tells one hot bearing, a hot car and a sick side by shape, without its colours", async () => {
    const journey = await someTrain();
    const mark = { axle: 21, side: "right", warning: "W-1", level: "warn" } as const;
    const strip = [
      leg("one-bearing", { marked: [{ ...mark, heat: "bearing" }] }, (row, side) => (row === 20 && side === "right" ? 150 : null)),
      leg("hot-car", { marked: [{ ...mark, heat: "brakes" }] }, (row) => (row >= 20 && row < 24 ? 120 : null)),
      leg("sick-side", { medianF: [BASE_F, 90] }, (_, side) => (side === "right" ? 90 : null)),
    ];
    await page.route("**/api/train**", async (route) => {
      const answer = await route.fetch();
      await route.fulfill({ response: answer, json: { ...((await answer.json()) as Train), strip } });
    });
    await goTo(page, "#/now", /decide now/);
    await goTo(page, `#/train/${encodeURIComponent(journey)}`, /Train/);
    await page.getByText("one-bearing", { exact: true }).waitFor();
    const [one, car, side] = [await bars("one-bearing"), await bars("hot-car"), await bars("sick-side")];
    for (const drawn of [one, car, side]) expect(drawn).toHaveLength(2 * AXLES);
    const low = Math.min(...one.map(({ high }) => high));
    const tall = (drawn: Bar[]) => drawn.filter(({ high }) => high > 1.9 * low);
    // One spike, on one side.
    expect(tall(one).map(({ side: at, row }) => `${at} ${row}`)).toEqual(["right 20"]);
    // A block of neighbours, on both sides, framed as one vehicle.
    for (const at of ["left", "right"] as const)
      expect(
        tall(car)
          .filter((bar) => bar.side === at)
          .map(({ row }) => row)
          .sort((a, b) => a - b),
      ).toEqual([20, 21, 22, 23]);
    expect(tall(car)).toHaveLength(8);
    const frame = page.getByRole("region", { name: "Strip of vehicles at hot-car" }).locator(".braked");
    expect((await frame.boundingBox())!.width).toBeGreaterThan(4 * 7 - 2);
    expect(await page.locator(".braked").count()).toBe(1);
    // All along one side, and nothing on the other; the medians say it in figures.
    expect(tall(side).every((bar) => bar.side === "right")).toBe(true);
    expect(tall(side)).toHaveLength(AXLES);
    await page.getByText("Median of its left side 20 °F, of its right side 90 °F.").waitFor();
    // Of the marked bearing a shape of its level stands outside the bars.
    expect(await page.getByRole("region", { name: "Strip of vehicles at one-bearing" }).locator(".marked .shape.warn").count()).toBe(1);
    await shot(page, "strips", true);
    await page.unroute("**/api/train**");
  });

  test("says in words what is drawn: the hottest bearing with its vehicle, axle and side", async () => {
    const journey = await someTrain();
    await goTo(page, "#/now", /decide now/);
    await goTo(page, `#/train/${encodeURIComponent(journey)}`, /Train/);
    const train = await reader.json<Train>(`/api/train?journey=${encodeURIComponent(journey)}`);
    const [last] = train.strip;
    const hottest = Math.max(...[...last!.left, ...last!.right].flatMap((riseF) => riseF ?? []));
    const group = page
      .getByRole("region", { name: `Strip of vehicles at ${last!.name}` })
      .first()
      .getByRole("group")
      .first();
    expect(await group.getAttribute("aria-label")).toMatch(
      new RegExp(
        `^${last!.axles} axles at ${last!.name}\\. Hottest: ${Math.floor(hottest)} °F at (car|locomotive) \\d+, axle \\d+, (left|right)\\.`,
      ),
    );
  });
});
