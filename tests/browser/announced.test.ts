import type { Page } from "playwright-core";
import { afterAll, beforeAll, beforeEach, describe, expect, test } from "vitest";
import type { RunningDesk } from "../../src/desk/start-desk.ts";
import type { Log } from "../../src/log/log.ts";
import type { Warning } from "../../src/warning/warning.ts";
import { deskOnLog, emptyLog } from "../desk/railroad.ts";
import { MINUTE_MS, START_MS, warning } from "../desk/samples.ts";
import { goTo, openBrowser, type TestBrowser } from "./browser.ts";

/** What somebody who does not look at the page is told, and hears: each thing once, whichever way it came. Everything invented. */

const NOW_MS = START_MS + 5 * MINUTE_MS;

/** In place of the browser's sound: notes what would be heard. */
const EARS = `
  window.tones = [];
  // The sound's own clock stands; the tests move it on.
  window.soundS = 0;
  window.AudioContext = class extends EventTarget {
    state = "suspended";
    get currentTime() { return window.soundS; }
    destination = {};
    resume() { this.state = "running"; this.dispatchEvent(new Event("statechange")); return Promise.resolve(); }
    createOscillator() {
      const frequency = { value: 0 };
      return { frequency, connect: (to) => to, start: () => window.tones.push(frequency.value), stop() {} };
    }
    createGain() {
      return { gain: { setValueAtTime() {}, exponentialRampToValueAtTime() {} }, connect: (to) => to };
    }
  };
  window.said = [];
  addEventListener("DOMContentLoaded", () => new MutationObserver((changes) => {
    for (const { target, addedNodes } of changes)
      if (target.id === "said" || target.id === "said-now")
        // A line that is gone again by now was never read.
        for (const node of addedNodes) if (node.isConnected) window.said.push((target.id === "said" ? "" : "! ") + node.textContent);
  }).observe(document, { subtree: true, childList: true }));
`;
/** The tones of each level, as they are played. */
const WATCH = [392];
const WARN = [392, 523];
const LIMIT = [392, 523, 659];

let log: Log;
let desk: RunningDesk;
let browser: TestBrowser;
let page: Page;
let made = 0;

beforeAll(async () => {
  log = emptyLog();
  desk = await deskOnLog(log, NOW_MS);
  browser = await openBrowser(desk.url);
  await append([one("W-before", "limit")]);
  page = await listening("Ada");
});
afterAll(async () => {
  await browser.close();
  await desk.close();
  await log.close();
});
beforeEach(() => forget(page));

const one = (id: string, level: Warning["level"], over: Partial<Warning> = {}): Warning =>
  warning({ id, level, train: id, journey: `J-${id}`, ...over });

async function append(warnings: readonly Warning[]): Promise<void> {
  await log.append(warnings.map((each) => ({ topic: "warnings", key: each.id, value: JSON.stringify(each) })));
}

/** Somebody whose page can be listened to. */
async function listening(name: string): Promise<Page> {
  const person = await browser.person(name, "act");
  await person.addInitScript(EARS);
  await open(person);
  return person;
}

async function open(person: Page): Promise<void> {
  await person.reload();
  await person.locator('[data-row="W-before"]').waitFor();
  await person.keyboard.press("Shift");
}

async function forget(person: Page): Promise<void> {
  await person.evaluate("window.said.length = 0; window.tones.length = 0");
}

const said = (person: Page) => person.evaluate("[...window.said]") as Promise<string[]>;
const tones = (person: Page) => person.evaluate("[...window.tones]") as Promise<number[]>;

/** Waits until so many lines were said, marks left out. */
async function linesSaid(person: Page, count: number): Promise<void> {
  await expect.poll(async () => (await said(person)).filter((line) => !line.includes("W-mark-")).length, { timeout: 15_000 }).toBe(count);
}

/** So long that what sounded before is over. */
async function letFade(...people: Page[]): Promise<void> {
  for (const person of people) await person.evaluate("window.soundS += 5");
}

/** Everything said up to a row that comes now: what came before it was told by then, or never will be. */
async function saidUntilNow(person: Page): Promise<string[]> {
  const id = `W-mark-${++made}`;
  await append([one(id, "watch")]);
  const isMark = (line: string) => line.includes(id);
  await expect.poll(async () => (await said(person)).some(isMark), { timeout: 15_000 }).toBe(true);
  return (await said(person)).filter((line) => !line.includes("W-mark-"));
}

describe("a row", () => {
  test("that is new, rises, falls and is withdrawn is told once each time, in words and by its tones", async () => {
    const place = "train W-life, car 47, axle 187, right side, at Coldrill.";
    // One after the other: of what comes at once a page is given the last state only.
    const steps: [Partial<Warning> & Pick<Warning, "level" | "version">, lines: number, heard: number[]][] = [
      [{ version: 1, level: "warn" }, 1, WARN],
      [{ version: 2, level: "limit" }, 2, LIMIT],
      [{ version: 3, level: "limit", riseF: 190 }, 2, []],
      [{ version: 4, level: "warn" }, 3, []],
      [{ version: 4, level: "warn" }, 3, []],
      [{ version: 5, level: "warn", state: "withdrawn" }, 4, []],
    ];
    for (const [change, lines, heard] of steps) {
      await page.evaluate("window.tones.length = 0");
      await letFade(page);
      await append([one("W-life", change.level, change)]);
      await linesSaid(page, lines);
      await letFade(page);
      expect(await saidUntilNow(page)).toHaveLength(lines);
      // The mark itself sounds like any new watch.
      expect(await tones(page)).toEqual([...heard, ...WATCH]);
    }
    expect(await saidUntilNow(page)).toEqual([
      `New: warn, ${place}`,
      // At the limit the screen reader is interrupted.
      `! Raised to limit, ${place}`,
      `Lowered to warn, ${place}`,
      `Withdrawn: warn, ${place}`,
    ]);
  });

  test("that comes together with another does not push its words away", async () => {
    await append([one("W-first", "warn"), one("W-second", "limit")]);
    const told = await saidUntilNow(page);
    expect(told.filter((line) => line.includes("W-first"))).toHaveLength(1);
    expect(told.filter((line) => line.includes("W-second"))).toHaveLength(1);
  });

  test("that stood there before the page was opened is not told", async () => {
    await open(page);
    expect(await saidUntilNow(page)).toEqual([]);
  });

  test("that came while the page was not live is told when it is loaded, once, however often all is loaded", async () => {
    await page.route("**/api/live**", (route) => route.fulfill({ status: 503 }));
    await open(page);
    await page.locator(".not-live").waitFor();
    await append([one("W-gap", "limit")]);
    await page.locator('[data-row="W-gap"]').waitFor();
    const loaded = () => page.waitForResponse((answer) => answer.url().includes("/api/now"));
    await loaded();
    await loaded();
    await page.unroute("**/api/live**");
    await page.locator(".not-live").waitFor({ state: "detached" });
    const told = await saidUntilNow(page);
    expect(told.filter((line) => line.includes("W-gap"))).toEqual([
      "! New: limit, train W-gap, car 47, axle 187, right side, at Coldrill.",
    ]);
    expect(told.filter((line) => line.startsWith("! Not live"))).toHaveLength(1);
  });

  test("that comes while somebody looks back is told then, and not again when they are back", async () => {
    await goTo(page, "#/back", /Look back/);
    await page.getByRole("button", { name: "15 min earlier" }).click();
    await page.getByText(/As it stood/).waitFor();
    await append([one("W-back", "limit")]);
    await expect.poll(async () => (await said(page)).filter((line) => line.includes("W-back")).length).toBe(1);
    await page.getByRole("button", { name: "Back to now" }).first().click();
    await goTo(page, "#/now", /to decide now/);
    await page.locator('[data-row="W-back"]').waitFor();
    expect((await saidUntilNow(page)).filter((line) => line.includes("W-back"))).toHaveLength(1);
  });
});

describe("sound", () => {
  test("is muted by a person for themselves, and a limit sounds all the same", async () => {
    await goTo(page, "#/now", /to decide now/);
    const other = await listening("Ben");
    await page.locator(".person summary").click();
    for (const [n, mute, unmute] of [
      [1, () => page.getByLabel("limit only").check(), () => page.getByLabel("every level").check()],
      [
        2,
        () => page.getByRole("button", { name: "Silence watch and warn for 15 minutes" }).click(),
        () => page.getByRole("button", { name: /Watch and warn silent for 15 min: sound again/ }).click(),
      ],
    ] as const) {
      await mute();
      for (const person of [page, other]) await forget(person);
      await letFade(page, other);
      await append([one(`W-soft-${n}`, "warn")]);
      for (const person of [page, other]) await linesSaid(person, 1);
      await letFade(page, other);
      await append([one(`W-loud-${n}`, "limit")]);
      for (const person of [page, other]) await linesSaid(person, 2);
      expect(await tones(page)).toEqual(LIMIT);
      // Ben muted nothing.
      expect(await tones(other)).toEqual([...WARN, ...LIMIT]);
      await unmute();
    }
    await forget(page);
    await letFade(page);
    await append([one("W-again", "warn")]);
    await linesSaid(page, 1);
    expect(await tones(page)).toEqual(WARN);
    await other.context().close();
  });

  test("of many one after the other does not pile up: what sounds is not broken into but by a higher level", async () => {
    await letFade(page);
    await forget(page);
    for (const [i, level] of (["warn", "warn", "watch", "limit", "limit", "warn"] as const).entries()) {
      await append([one(`W-flood-${i}`, level)]);
      await linesSaid(page, i + 1);
    }
    expect(await tones(page)).toEqual([...WARN, ...LIMIT]);
  });

  test("cannot begin before the first click or key: the page says so until then, and moves nothing when it is gone", async () => {
    await page.reload();
    const words = page.getByText("No sound until the first click or key.");
    await words.waitFor({ state: "visible" });
    const row = page.locator('[data-row="W-before"]');
    const before = await row.boundingBox();
    await page.keyboard.press("Shift");
    await words.waitFor({ state: "hidden" });
    expect(await row.boundingBox()).toEqual(before);
  });
});
