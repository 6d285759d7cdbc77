import type { Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import type { RunningDesk } from "../../src/desk/start-desk.ts";
import type { Line } from "../../src/desk/views/line-shape.ts";
import type { Train } from "../../src/desk/views/train-shape.ts";
import type { OneWarning } from "../../src/desk/views/warning-shape.ts";
import { Client } from "../desk/client.ts";
import { deskOnDay } from "../desk/railroad.ts";
import { goTo, openBrowser, type TestBrowser, visibleText } from "./browser.ts";

/** The evidence that a decision rests on, as it is drawn and told: of a bearing, a train, a site, a shift, and of all of them as they stood. */

const NOW_MS = Date.parse("2026-03-04T16:36:00Z");
const HOUR_MS = 3_600_000;
let desk: RunningDesk;
let close: () => Promise<void>;
let browser: TestBrowser;
let page: Page;
let reader: Client;

beforeAll(async () => {
  ({ desk, close } = await deskOnDay(NOW_MS));
  browser = await openBrowser(desk.url);
  page = await browser.person("Ada", "act");
  reader = new Client(desk.url);
  await reader.signIn("Reader", "view");
});
afterAll(async () => {
  await browser.close();
  await close();
});

const hashOf = (kind: string, id: string) => `#/${kind}/${encodeURIComponent(id)}`;
const rows = () => desk.desk.state.board.rows();
const region = (name: string) => page.getByRole("region", { name });

describe("one warning", () => {
  test("its curve: the band of its side, scatter of each reading, the limit, and where it could be reached", async () => {
    const row = rows().find((one) => one.crossing !== null && one.level !== "limit" && one.riseF !== null && one.crossing.low < 80)!;
    await goTo(page, hashOf("warning", row.id), /Train/);
    const curve = page.locator(".two svg.curve").first();
    await curve.locator(".fan").waitFor();
    const { evidence } = await reader.json<OneWarning>(`/api/warning?id=${encodeURIComponent(row.id)}`);
    const measured = evidence.filter(({ riseF }) => riseF !== null);
    expect(await curve.locator(".raw").count()).toBe(measured.length);
    expect(await curve.locator(".scatter").count()).toBe(measured.filter(({ leveledF }) => leveledF !== null).length);
    expect(await curve.locator(".side").count()).toBe(1);
    expect(await curve.locator(".limit-word").allTextContents()).toEqual([`limit ${Math.floor(row.limitF)} °F`]);
    const limitY = Number(/M[\d.]+ ([\d.]+)H/.exec((await curve.locator(".limit-line").getAttribute("d"))!)![1]);
    const fan = (await curve.locator(".fan").getAttribute("points"))!
      .split(" ")
      .map((point) => point.split(",").map(Number) as [number, number]);
    const raws = await curve.locator(".raw").evaluateAll((all) => all.map((one) => Number(one.getAttribute("x")) + 5));
    // From the last reading up to the limit, low end first.
    expect(fan[0]![0]).toBeCloseTo(Math.max(...raws), 0);
    expect(fan.slice(1).map(([, y]) => y)).toEqual([limitY, limitY]);
    expect(fan[1]![0]).toBeLessThan(fan[2]![0]);
  });

  test("what lies ahead: set-out places and sites in order, with the time when the train would be there", async () => {
    const row = rows().find((one) => one.state === "unacknowledged" && one.level === "limit" && one.mph !== null)!;
    const { setOuts, sitesAhead } = await reader.json<OneWarning>(`/api/warning?id=${encodeURIComponent(row.id)}`);
    await goTo(page, hashOf("warning", row.id), /Train/);
    const cells = region("Ahead of the train").locator("tbody tr");
    await expect.poll(() => cells.count()).toBe(setOuts.length + sitesAhead.length);
    const lines = await cells.evaluateAll((all) => all.map((line) => [...line.children].map((cell) => cell.textContent ?? "")));
    const miles = lines.map(([on]) => Number(on));
    expect(miles).toEqual([...miles].sort((a, b) => a - b));
    for (const [, name, what, arrives] of lines) {
      expect(what, name).toMatch(/^(set-out place, room for \d+ cars|site)/);
      expect(arrives, name).toMatch(/^\d\d:\d\d \(\d\d:\d\d UTC\)$/);
    }
  });

  test("every reading stands raw and levelled, with the reason why it counts or not", async () => {
    const row = rows().find((one) => one.train === "T00031")!;
    await goTo(page, hashOf("warning", row.id), /Train T00031/);
    const readings = region("Every reading of the bearing");
    const headings = await readings.getByRole("columnheader").allTextContents();
    expect(headings).toEqual(["mile", "site", "time", "axle", "as measured", "side’s median", "over its side", "scanner bias", "counts?"]);
    const { evidence } = await reader.json<OneWarning>(`/api/warning?id=${encodeURIComponent(row.id)}`);
    const last = await readings.locator("tbody tr").evaluateAll((all) => all.map((line) => line.lastElementChild?.textContent));
    expect(last).toEqual(evidence.map(({ why }) => why));
    expect(new Set(last)).toEqual(new Set(["counts in full", "the axle was not seen or not measured here"]));
  });

  test("is cleared by an inspection alone: what was not inspected stands, what was found sound goes", async () => {
    const row = rows().find((one) => one.state === "unacknowledged" && one.level === "limit")!;
    await goTo(page, hashOf("warning", row.id), /Train/);
    const act = region("Act on this warning");
    expect(await act.getByRole("button").allTextContents()).toEqual([
      "Acknowledge",
      "Told the crew",
      "Train stopped",
      "Vehicle set out",
      "Found …",
      "Assign …",
      "Note …",
      "Shelve …",
    ]);
    for (const done of ["Train stopped", "Vehicle set out"]) {
      await act.getByRole("button", { name: done }).click();
      await page.locator(".story").getByText(done.toLowerCase()).waitFor();
    }
    const found = async (what: RegExp, stick: string) => {
      await act.getByRole("button", { name: "Found …" }).click();
      await act.getByLabel(what).check();
      await act.getByLabel(stick).check();
      await act.getByRole("button", { name: "Take down" }).click();
    };
    await found(/Not inspected/, "not used");
    await page.locator(".story").getByText("not inspected; no heat stick used").waitFor();
    expect(await visibleText(page.locator(".big-what"))).toMatch(/not acknowledged|acknowledged/);
    await found(/Nothing found/, "did not melt");
    await page.locator(".big-what").getByText("cleared").waitFor();
    expect(await act.getByRole("button", { name: "Found …" }).isDisabled()).toBe(true);
    await goTo(page, "#/now", /decide now/);
    await page.locator(`[data-row="${row.id}"]`).waitFor({ state: "detached" });
  });
});

describe("a train", () => {
  test("names the sites that missed it, how sure each join is, and ranks its bearings by how far they are over their side", async () => {
    const { points } = await reader.json<Line>(`/api/line?fromMs=${NOW_MS - 8 * HOUR_MS}&toMs=${NOW_MS}`);
    let missed: Train | undefined;
    for (const journey of new Set(points.map((one) => one.journey))) {
      const train = await reader.json<Train>(`/api/train?journey=${encodeURIComponent(journey)}`);
      if (train.legs.some(({ over }) => over.length > 0)) missed = train;
    }
    const leg = missed!.legs.findLast(({ over }) => over.length > 0)!;
    await goTo(page, hashOf("train", missed!.journey), /Train/);
    const pass = region("Passes of the train")
      .locator("tbody tr")
      .filter({ has: page.getByRole("rowheader", { name: new RegExp(`^${leg.name} `) }) })
      .first();
    expect(await visibleText(pass)).toContain(leg.over[0]!);
    const joined = await region("Passes of the train").locator("tbody tr td:nth-child(7)").allTextContents();
    expect(joined.at(-1)).toBe("first of this journey");
    for (const words of joined.slice(0, -1)) expect(words).toMatch(/certain for all practical purposes|odds of about/);
    const over = await region("Bearings ranked").locator("tbody td:nth-child(3)").allTextContents();
    const figures = over.map((text) => Number(text.replace("−", "-")));
    expect(figures).toEqual([...figures].sort((a, b) => b - a));
    expect(await region("Bearings ranked").getByRole("columnheader").allTextContents()).toContain("plain slope");
  });
});

describe("sites", () => {
  test("tell what is the matter, when they were heard, which test is due, and how each scanner's bias went", async () => {
    await goTo(page, "#/sites", /1 of 18 sites needs somebody/);
    const ill = region("Lorne Siding");
    const words = await visibleText(ill);
    for (const part of [
      /needs somebody, heard \d+ min ago, last train/,
      /functional test due, track 1,\s+since 06:30/,
      /direction reversed/,
    ])
      expect(words).toMatch(part);
    await ill.getByText("Scanners, supply, tests, what was").click();
    expect(await visibleText(ill)).toMatch(/Test due\s+(?!not due)\S+/);
    const well = region("Alder");
    await well.getByText("Scanners, supply, tests, what was").click();
    expect(await visibleText(well)).toMatch(/Test due\s+not due as far as is known/);
    const trend = well.locator("svg.trend polyline").first();
    await trend.waitFor();
    expect((await trend.getAttribute("points"))!.split(" ").length).toBeGreaterThan(3);
    expect(await visibleText(well)).toMatch(/left bearing scanner\s+[−\d.]+ ± [\d.]+\s+\d+ trains/);
  });
});

describe("the handover", () => {
  test("lists all that is open, and the desk's load against the measures of alarm management, for each person too", async () => {
    await goTo(page, "#/handover", /Handover/);
    const open = region("Open warnings").locator("tbody tr");
    await expect.poll(() => open.count()).toBe(rows().length);
    const load = await visibleText(page.locator(".handover"));
    for (const part of [
      /Warnings that asked for a response\s+\d+/,
      /A person, in 10 minutes\s+\d+\.\d\d/,
      /A person, a day\s+\d+\s+150 manageable, 300 not/,
      /Floods\s+\d+/,
      /Open over 24 hours\s+\d+\s+stale/,
      /Shelved\s+\d+/,
      /Load of each person[\s\S]+Ada\s+\d+/,
    ])
      expect(load).toMatch(part);
  });
});

describe("looking back", () => {
  test("every page stands as it stood then: the line ends there, the shift is the one before, sites and a train know nothing later", async () => {
    const thenMs = NOW_MS - 8 * HOUR_MS;
    await goTo(page, "#/back", /Look back/);
    await page.getByRole("button", { name: "8 h earlier" }).click();
    await page.getByText("As it stood 2026-03-04 02:36 (08:36 UTC)").waitFor();
    await goTo(page, "#/line", /The line/);
    await page.locator(".now-word", { hasText: "now 02:36" }).waitFor();
    const heard = await region("Trains in this window").locator("tbody td:nth-child(2)").allTextContents();
    expect(heard.length).toBeGreaterThan(3);
    for (const words of heard) expect(words).toMatch(/(ago|just now)$/);
    await goTo(page, "#/handover", /Handover/);
    // The desk's clock runs on a little meanwhile, and the shift ends with a whole minute.
    await page.getByText(/2026-03-03 18:36 \(2026-03-04 00:36 UTC\) to 2026-03-04 02:3[67] \(08:3[67] UTC\)/).waitFor();
    const acts = await region("What happened").locator("tbody tr").count();
    expect(acts).toBeGreaterThan(0);
    expect(await visibleText(region("What happened"))).not.toMatch(/Ada/);
    // Lorne Siding was turned round later that day.
    await goTo(page, "#/sites", /sites/i);
    expect(await visibleText(page.locator("main"))).not.toMatch(/direction reversed/);
    const { points } = await reader.json<Line>(`/api/line?fromMs=${thenMs - HOUR_MS}&toMs=${thenMs}&at=${thenMs}`);
    await goTo(page, hashOf("train", points.at(-1)!.journey), /Train/);
    const passes = await region("Passes of the train").locator("tbody td:nth-child(2)").allTextContents();
    for (const words of passes) expect(words.slice(0, 5) <= "02:36" || words.slice(0, 5) >= "18:00").toBe(true);
    await page.getByRole("button", { name: "Back to now" }).click();
  });
});
