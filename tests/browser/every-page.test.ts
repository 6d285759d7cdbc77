import type { Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import type { RunningDesk } from "../../src/desk/start-desk.ts";
import { deskOnDay } from "../desk/railroad.ts";
import { cutOff, expectAccessible, goTo, openBrowser, shot, type TestBrowser, visibleText } from "./browser.ts";

/** What holds for every page: no barrier, by light and dark, on a desk and a phone; the caution; paper; an address that names none. */

const NOW_MS = Date.parse("2026-03-04T16:36:00Z");
let desk: RunningDesk;
let close: () => Promise<void>;
let browser: TestBrowser;
let page: Page;
/** Every page: its address, its heading, and what it is called in a picture's file name. */
let pages: [hash: string, heading: RegExp, name: string][];
/** Those that show warnings. */
const WITH_WARNINGS = ["now", "line", "handover", "back", "warning", "train"];

beforeAll(async () => {
  const demonstration = "Demonstration: a simulated day of an invented railroad. No real train, no real warning.";
  ({ desk, close } = await deskOnDay(NOW_MS, { demonstration }));
  browser = await openBrowser(desk.url);
  page = await browser.person("Ada", "administer");
  const row = desk.desk.state.board.rows()[0]!;
  const run = desk.desk.state.sites.tests.all()[0]!;
  pages = [
    ["#/now", /decide now/, "now"],
    ["#/line", /The line/, "line"],
    ["#/sites", /sites/i, "sites"],
    ["#/handover", /Handover/, "handover"],
    ["#/back", /Look back/, "back"],
    [hashOf("warning", row.id), /Train/, "warning"],
    [hashOf("train", row.journey), /Train/, "train"],
    [hashOf("test", run.id), /track/, "test"],
    ["#/nowhere", /no such page/, "nowhere"],
  ];
});
afterAll(async () => {
  await browser.close();
  await close();
});

const hashOf = (kind: string, id: string) => `#/${kind}/${encodeURIComponent(id)}`;

for (const colorScheme of ["light", "dark"] as const) {
  for (const [what, options] of [
    ["on a desk", {}],
    ["on a phone", { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true }],
  ] as const) {
    test(`finds no barrier on any page, ${colorScheme}, ${what} (axe)`, async () => {
      const person = await browser.person(`Axel ${colorScheme}`, "administer", { colorScheme, ...options });
      for (const [hash, heading, name] of pages) {
        await goTo(person, hash, heading);
        await expectAccessible(person, `${hash} ${colorScheme} ${what}`);
        const width = person.viewportSize()!.width;
        expect(await person.evaluate("document.documentElement.scrollWidth"), hash).toBeLessThanOrEqual(width);
        if (name === "now") expect(await cutOff(person), `${hash} ${width}`).toEqual([]);
        await shot(person, `${name}-${colorScheme}-${width}`, name !== "now");
      }
      await person.locator(".person summary").click();
      await person.locator(".menu").waitFor();
      await expectAccessible(person, `the menu of a person ${colorScheme} ${what}`);
      await person.getByRole("button", { name: "Sign out" }).click();
      await person.getByRole("button", { name: "Sign in" }).waitFor();
      await expectAccessible(person, `sign-in ${colorScheme} ${what}`);
      await shot(person, `sign-in-${colorScheme}-${person.viewportSize()!.width}`);
      await person.context().close();
    });
  }
}

describe("the caution", () => {
  test("stands in sight on every page that shows a warning, without scrolling where there is room, and on its paper", async () => {
    for (const [hash, heading, name] of pages) {
      if (!WITH_WARNINGS.includes(name)) continue;
      await goTo(page, hash, heading);
      const caution = page.locator("main .caution");
      const words = await visibleText(caution);
      for (const part of [/Advice only/, /site.s own alarm/, /operating rules/, /qualified people govern/, /A reading may be too low/])
        expect(words, hash).toMatch(part);
      const box = (await caution.boundingBox())!;
      expect(box.y + box.height, hash).toBeLessThan(page.viewportSize()!.height);
      await page.emulateMedia({ media: "print" });
      expect(await caution.isVisible(), `${hash} on paper`).toBe(true);
      await page.emulateMedia({ media: "screen" });
    }
  });
});

describe("paper", () => {
  test("holds every page: black on white, nothing to press, nothing wider than the sheet", async () => {
    const WIDTH = 720;
    const height = page.viewportSize()!.height;
    for (const [hash, heading, name] of pages) {
      await goTo(page, hash, heading);
      await page.emulateMedia({ media: "print", colorScheme: "dark" });
      await page.setViewportSize({ width: WIDTH, height });
      await page.evaluate("dispatchEvent(new Event('beforeprint'))");
      expect(await page.evaluate("document.documentElement.scrollWidth"), hash).toBeLessThanOrEqual(WIDTH);
      expect(await page.evaluate("getComputedStyle(document.body).backgroundColor"), hash).toBe("rgb(255, 255, 255)");
      for (const control of await page.locator("button, nav, input, select").all()) expect(await control.isVisible(), hash).toBe(false);
      // What goes sideways on a screen cannot on paper.
      const cut = await page
        .locator(".scroll")
        .evaluateAll((all) => all.filter((one) => one.scrollWidth > one.clientWidth + 1).map((one) => one.getAttribute("aria-label")));
      expect(cut, hash).toEqual([]);
      await shot(page, `print-${name}`, true);
      await page.evaluate("dispatchEvent(new Event('afterprint'))");
      await page.emulateMedia({ media: "screen", colorScheme: "light" });
      await page.setViewportSize({ width: 1440, height });
    }
  });
});

describe("an address", () => {
  test("that names no page says so and offers the way back; one cut off in an escape does not end in a blank page", async () => {
    for (const hash of ["#/warning/%", "#/nwo", "#/warning"]) {
      await goTo(page, hash, /no such page/);
      await page.getByText(hash).waitFor();
    }
    await page.getByRole("link", { name: "Go to Now" }).click();
    await page.getByRole("heading", { level: 1, name: /decide now/ }).waitFor();
    await goTo(page, "#/warning/W-unheard-of", /Not here/);
    await page.getByRole("link", { name: "Go to Now" }).waitFor();
  });
});
