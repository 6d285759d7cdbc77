import type { Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import type { RunningDesk } from "../../src/desk/start-desk.ts";
import type { Equipment } from "../../src/feed/record.ts";
import { deskOnLog, emptyLog, RAILROAD, type RunningRailroad, runStages } from "../desk/railroad.ts";
import { expectAccessible, goTo, openBrowser, shot, type TestBrowser, visibleText } from "./browser.ts";

/** A maintainer beside the track with a phone: what the site sends while the page is open, from its sensors to the printed record. */

const SITE = "coldrill-44";
const NEIGHBOURS = ["alder-14", "birch-29", "dunmere-53"].filter((site) => RAILROAD.sites.has(site));
const START_MS = Date.parse("2026-03-04T16:00:00Z");
const MINUTE_MS = 60_000;
const PHONE = { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true };
const EXPECTS = ["1/left", "1/right", "dragging", "transducer-1", "transducer-2"];

let nowMs = START_MS;
let railroad: RunningRailroad;
let desk: RunningDesk;
let browser: TestBrowser;
let phone: Page;

const iso = (minute: number) => new Date(START_MS + minute * MINUTE_MS).toISOString();

/** Records as the feed sends them, at a minute by which the desk's clock has come so far too. */
async function send(minute: number, topic: "site-reports" | "axle-readings", ...records: Record<string, unknown>[]): Promise<void> {
  nowMs = Math.max(nowMs, START_MS + minute * MINUTE_MS);
  const key = topic === "site-reports" ? SITE : `${SITE}/1`;
  await railroad.log.append(records.map((record) => ({ topic, key, value: JSON.stringify({ site: SITE, time: iso(minute), ...record }) })));
}

/** Heartbeats of the site and of its neighbours: two of them confirm what time it is. */
async function beat(minute: number): Promise<void> {
  for (const site of [SITE, ...NEIGHBOURS]) {
    const record = { type: "heartbeat", site, time: iso(minute), ambient: 60 };
    await railroad.log.append([{ topic: "site-reports", key: site, value: JSON.stringify(record) }]);
  }
}

const phase = (what: "begun" | "ended") => ({ type: "functional-test", track: "1", phase: what, tester: "Mia", expects: EXPECTS });
const answer = (over: Partial<Equipment>) => ({
  type: "equipment",
  track: "1",
  pass: "test",
  axle: 1,
  announced: true,
  value: null,
  ...over,
});

/** A train of eight axles made by hand over the transducers: count and speed, nothing hot. */
function simulatedTrain(): Record<string, unknown>[] {
  const numbers = Array.from({ length: 8 }, (_, i) => i);
  const cool = { bearing: numbers.map(() => 70), wheel: numbers.map(() => 70) };
  return [
    { type: "pass-begun", track: "1", pass: "t1", direction: "rising", ambient: 60, train: null },
    {
      type: "axles",
      track: "1",
      pass: "t1",
      first: 1,
      ms: numbers.map((i) => i * 400),
      gap: numbers.map((i) => (i === 0 ? null : 80)),
      speed: numbers.map(() => 11),
      left: cool,
      right: cool,
      time: undefined,
    },
    { type: "pass-ended", track: "1", pass: "t1", axles: 8, integrity: [] },
  ];
}

const device = (name: string) => phone.locator(".devices li").filter({ hasText: name });
const states = () => phone.locator(".devices li").evaluateAll((items) => items.map((item) => item.className));

beforeAll(async () => {
  railroad = await runStages(emptyLog());
  desk = await deskOnLog(railroad.log, nowMs, { clock: { nowMs: () => nowMs, speed: 1 } });
  await beat(0);
  browser = await openBrowser(desk.url);
  phone = await browser.person("Mia", "maintain", PHONE);
});
afterAll(async () => {
  await browser.close();
  await desk.close();
  await railroad.close();
});

describe("a functional test on a phone", () => {
  test("begun beside the track it appears by itself, every device awaited", async () => {
    await goTo(phone, "#/sites", /sites/i);
    await phone.getByText("No functional test was heard of").waitFor();
    await send(1, "site-reports", phase("begun"));
    await phone.getByRole("link", { name: "Coldrill, track 1" }).click();
    await phone.getByRole("heading", { level: 1, name: "Functional test: Coldrill, track 1" }).waitFor();
    await expect.poll(states).toEqual(EXPECTS.map(() => "waiting"));
    expect(await visibleText(phone.getByRole("status").filter({ hasText: "devices answered" }))).toMatch(
      /0 of 5 devices answered\s+Waiting for the next answer\./,
    );
  });

  test("each device turns from awaited to answered as its message comes, and no other one with it", async () => {
    const steps: [name: string, minute: number, over: Partial<Equipment>, says: RegExp][] = [
      ["left bearing scanner", 3, { kind: "hot-bearing", side: "left", value: 210 }, /answered\s+10:03:00, 2\d\d °F, crew told/],
      ["right bearing scanner", 5, { kind: "hot-bearing", side: "right", value: 205 }, /answered\s+10:05:00, 2\d\d °F, crew told/],
      ["dragging", 7, { kind: "dragging", side: null }, /answered\s+10:07:00, crew told/],
    ];
    for (const [i, [name, minute, over, says]] of steps.entries()) {
      expect(await visibleText(device(name))).toContain("waiting");
      await send(minute, "site-reports", answer(over));
      await expect.poll(() => visibleText(device(name))).toMatch(says);
      expect(await states()).toEqual(EXPECTS.map((_, at) => (at <= i ? "proved" : "waiting")));
      await phone.getByText(`${i + 1} of 5 devices answered`).waitFor();
    }
    await send(9, "axle-readings", ...simulatedTrain());
    await expect.poll(states).toEqual(EXPECTS.map(() => "proved"));
    await phone.getByText("Every device answered; the test can be ended.").waitFor();
  });

  test("fits the phone: nothing goes sideways, each device is large enough for a glove, no barrier", async () => {
    expect((await phone.evaluate("document.documentElement.scrollWidth")) as number).toBeLessThanOrEqual(PHONE.viewport.width);
    for (const item of await phone.locator(".devices li").all()) {
      const box = (await item.boundingBox())!;
      expect(box.height).toBeGreaterThanOrEqual(44);
      expect(box.x + box.width).toBeLessThanOrEqual(PHONE.viewport.width);
    }
    await expectAccessible(phone, "a running test, 390 px");
    await shot(phone, "phone-test-running", true);
  });

  test("ended, its verdict stands on the page as soon as the engine has it, and survives a lost page", async () => {
    await send(11, "site-reports", phase("ended"));
    await phone.getByText("Ended; a little is still waited for").waitFor();
    // What may be on its way is waited for, by the sites' own time.
    for (const minute of [12, 14, 16]) {
      nowMs = START_MS + minute * MINUTE_MS;
      await beat(minute);
    }
    await phone.locator(".verdict.passed strong", { hasText: "Passed" }).waitFor({ timeout: 15_000 });
    await phone.reload();
    await phone.locator(".verdict.passed strong", { hasText: "Passed" }).waitFor();
  });

  test("printed it is the record: site, times, tester, each device as found and left, lines to sign", async () => {
    const asked = phone.evaluate("new Promise((done) => { window.print = done; })");
    await phone.getByRole("button", { name: "Print the record" }).click();
    await asked;
    await phone.emulateMedia({ media: "print" });
    await phone.setViewportSize({ width: 720, height: 1_000 });
    const paper = await visibleText(phone.locator("main"));
    expect(paper).toMatch(/Functional test: Coldrill, track 1/);
    expect(paper).toMatch(/Passed/);
    for (const name of ["left bearing scanner", "right bearing scanner", "dragging detector", "wheel transducer 1", "wheel transducer 2"])
      expect(paper).toMatch(new RegExp(`${name}\\s+answered`));
    expect(paper).toMatch(/Begun\s+2026-03-04 10:01 \(16:01 UTC\)/);
    expect(paper).toMatch(/Ended\s+10:11 \(16:11 UTC\)/);
    expect(paper).toMatch(/Tester\s+Mia/);
    for (const line of ["As found", "As left", "Parts changed", "Tested by, date"]) expect(paper).toContain(line);
    expect(await phone.getByRole("button", { name: "Print the record" }).isVisible()).toBe(false);
    expect(await phone.locator(".bar nav").isVisible()).toBe(false);
    await shot(phone, "print-test", true);
  });
});

describe("a device that does not answer as it should", () => {
  test("is said as such while the test runs: too low, and not told to the crew", async () => {
    const mia = await browser.person("Mia B", "maintain", PHONE);
    await send(30, "site-reports", phase("begun"));
    await goTo(mia, "#/sites", /sites/i);
    await mia.getByRole("link", { name: "Coldrill, track 1" }).filter({ hasText: "Coldrill" }).first().waitFor();
    await mia.locator(".tests li", { hasText: "running" }).getByRole("link").click();
    const item = (name: string) => mia.locator(".devices li").filter({ hasText: name });
    await item("left bearing scanner").filter({ hasText: "waiting" }).waitFor();
    await send(31, "site-reports", answer({ kind: "hot-bearing", side: "left", value: 75 }));
    await item("left bearing scanner").filter({ hasText: "answered too low" }).waitFor();
    await send(32, "site-reports", answer({ kind: "hot-bearing", side: "right", value: 210, announced: false }));
    await item("right bearing scanner").filter({ hasText: "answered, crew not told" }).waitFor();
    await mia.getByText("0 of 5 devices answered").waitFor();
    await mia.context().close();
  });
});
