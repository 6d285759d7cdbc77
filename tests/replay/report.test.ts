import { createHash } from "node:crypto";
import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { DayAccount } from "../../src/replay/account.ts";
import { textWidth } from "../../src/replay/report/scale.ts";
import { PAGE_LIMITS, reportHtml } from "../../src/replay/report.ts";
import { CAUTION } from "../../src/replay/summary.ts";
import { journeyOf, MIDNIGHT, mainWay, replayJourney, sampleDay, warningAt } from "./sample.ts";

const { railroad, account } = sampleDay();
const day = account.close();
const html = reportHtml(railroad, day);

/** Names of elements opened and never closed, or closed in the wrong order. A page of ours closes everything but void elements. */
function unbalanced(page: string): string[] {
  const open: string[] = [];
  const wrong: string[] = [];
  const body = page.replace(/<!doctype html>|<style>[\s\S]*?<\/style>/g, "");
  for (const [, close, name, rest] of body.matchAll(/<(\/?)([a-zA-Z][\w:-]*)((?:"[^"]*"|[^">])*)>/g)) {
    if (close === "/") {
      if (open.pop() !== name) wrong.push(name as string);
    } else if (!rest?.endsWith("/") && !["meta", "br"].includes(name as string)) open.push(name as string);
  }
  return [...wrong, ...open];
}

function attributes(page: string, name: string): string[] {
  return [...page.matchAll(new RegExp(` ${name}="([^"]*)"`, "g"))].map(([, value]) => value as string);
}

describe("the report", () => {
  test("the same day gives the same bytes", () => {
    const again = sampleDay();
    expect(reportHtml(again.railroad, again.account.close())).toBe(html);
  });

  test("under the trains stands which of their sites was out of service, and since when", () => {
    const site = railroad.corridors[0]!.sites[2]!;
    const conditions = day.conditions.map((one) => ({
      ...one,
      site,
      device: "1",
      kind: "out-of-service" as const,
      state: "raised" as const,
    }));
    const page = reportHtml(railroad, { ...day, conditions: conditions.slice(0, 1) });
    const name = railroad.sites.get(site)!.name;
    expect(page).toMatch(new RegExp(`left out of these trains: ${name}, track 1, from 03-04 \\d\\d:\\d\\d`));
    expect(html).not.toContain("left out of these trains");
  });

  test("it is one whole page", () => {
    expect(html).toMatch(/^<!doctype html>\n<html lang="en">/);
    expect(unbalanced(html)).toEqual([]);
    expect(html).not.toMatch(/NaN|undefined|Infinity|\[object/);
  });

  test("it asks the network for nothing and runs nothing", () => {
    expect(html).not.toMatch(/<(script|link|img|iframe|object|embed|form)\b/i);
    expect(html).not.toMatch(/\b(src|srcset|action|on\w+|style)="/i);
    expect(html).not.toMatch(/url\((?!#)/);
    for (const href of attributes(html, "href")) expect(href).toMatch(/^#/);
  });

  test("its policy lets in its own style and nothing else", () => {
    const style = html.match(/<style>([\s\S]*?)<\/style>/)?.[1] ?? "";
    const hash = createHash("sha256").update(style).digest("base64");
    expect(html).toContain(`default-src &#39;none&#39;; style-src &#39;sha256-${hash.replaceAll("&", "&amp;")}&#39;`);
  });

  test("a link, a label or a clip leads to something that is there, once", () => {
    const ids = attributes(html, "id");
    expect(new Set(ids).size).toBe(ids.length);
    const known = new Set(ids);
    for (const href of attributes(html, "href")) expect(known).toContain(href.slice(1));
    for (const label of attributes(html, "aria-labelledby")) for (const id of label.split(" ")) expect(known).toContain(id);
    for (const clip of attributes(html, "clip-path")) expect(known).toContain(clip.slice(5, -1));
  });

  test("a screen reader finds its way: one h1, headings without a gap, pictures with title and description, tables with captions", () => {
    const levels = [...html.matchAll(/<h([1-6])/g)].map(([, level]) => Number(level));
    expect(levels.filter((level) => level === 1)).toEqual([1]);
    for (let i = 1; i < levels.length; i++) expect(levels[i]).toBeLessThanOrEqual((levels[i - 1] ?? 0) + 1);
    const pictures = html.match(/<svg class="picture[\s\S]*?<\/desc>/g) ?? [];
    expect(pictures.length).toBe(2 + 7);
    for (const picture of pictures) expect(picture).toMatch(/role="img" aria-labelledby="[^"]+"[\s\S]*<title[\s\S]*<desc/);
    expect(html.match(/<caption/g)?.length).toBe(html.match(/<table/g)?.length);
    for (const [cell] of html.matchAll(/<th\b[^>]*>/g)) expect(cell).toContain("scope=");
    expect(html).toContain('<a class="skip" href="#content">');
  });

  test("every level stands as a word beside its shape", () => {
    for (const level of ["limit", "warn", "watch"])
      expect(html).toMatch(new RegExp(`class="tag ${level}"><svg[\\s\\S]*?</svg>${level}</span>`));
  });

  test("the caution stands at the head, at the foot and with each warning", () => {
    expect(html.split(CAUTION.replaceAll("'", "&#39;")).length - 1).toBe(2);
    expect(html.match(/<p class="caution">/g)?.length).toBe(7);
  });

  test("each train is a line in the diagram of its corridor, and the branch is a band of its own", () => {
    expect(html.match(/<svg class="picture time-distance"/g)?.length).toBe(2);
    expect(html).toContain("Sable Branch, from Dunmere");
    expect(html.match(/<g class="train warned">/g)?.length).toBeGreaterThanOrEqual(4);
  });

  test("the curve shows raw and levelled readings, the side, the limit, the projection and set-out places", () => {
    const curve = html.match(/<svg class="picture curve"[\s\S]*?<\/svg>/)?.[0] ?? "";
    for (const part of ["raw", "levelled", "bar", "side", "limit-line", "fan", "bracket", "place chosen"])
      expect(curve).toContain(`class="${part}"`);
    expect(curve).toContain("Linnet siding (set out here)");
    expect(curve).toContain("limit 170 °F");
  });

  test("what was measured after a warn that came to nothing is drawn and listed", () => {
    const article = html.split("<article").find((text) => text.includes("train X301")) ?? "";
    expect(article).toContain('class="later-line"');
    expect(article).toContain("Measured after the last version");
    expect(article).toContain("outlying, hardly used");
  });

  test("a word beside a reading at the edge of the curve is written inside the picture", () => {
    const journey = journeyOf(
      { train: "T", sites: mainWay(16), direction: "rising", startMs: MIDNIGHT, rises: [30, 120, ...Array<number>(13).fill(90), 11] },
      1,
    );
    const account = new DayAccount(railroad);
    replayJourney(account, journey, [warningAt(journey, 1, "limit"), warningAt(journey, 15, "limit", { version: 2 })]);
    const page = reportHtml(railroad, account.close());
    const width = Number(/<svg class="picture curve"[^>]*viewBox="0 0 (\d+) /.exec(page)?.[1]);
    const [, x, anchor] = /<text class="used" x="([\d.]+)"[^>]*?( text-anchor="end")?>outlying, hardly used</.exec(page) ?? [];
    expect(anchor === undefined ? Number(x) + textWidth("outlying, hardly used", 12) : Number(x)).toBeLessThanOrEqual(width);
  });

  test("a bearing under its limit that is at the limit all the same is said to have reached the other one", () => {
    const journey = journeyOf({ train: "T", sites: mainWay(2), direction: "rising", startMs: MIDNIGHT, rises: [30, 150] }, 1);
    const account = new DayAccount(railroad);
    replayJourney(account, journey, [warningAt(journey, 1, "limit")]);
    const page = reportHtml(railroad, account.close());
    expect(page).toContain("reached, between the ends of its axle");
    expect(page).toContain("limit 170 °F; reached is the limit between the two ends of its axle");
  });

  test("the accounts name reasons, doubts, limit readings without an earlier warn and warns that came to nothing", () => {
    const accounts = html.slice(html.indexOf('id="accounts"'));
    for (const words of ["FEED-001 not JSON", "neither fits better by enough", "train Q124", "train X301", "They add up."])
      expect(accounts).toContain(words);
  });

  test("whatever a record holds, it stays text", () => {
    const journey = journeyOf({ train: "T", sites: mainWay(3), direction: "rising", startMs: MIDNIGHT, rises: [30, 120, 140] }, 1);
    const piece = fc.oneof(
      fc.constantFrom("<script>", "</style>", '"><svg onload=x>', "'", "&lt;", "]]>", "\u0000"),
      fc.string({ unit: "binary" }),
    );
    fc.assert(
      fc.property(fc.array(piece, { maxLength: 5 }), (pieces) => {
        const hostile = pieces.join("");
        const more = { train: hostile, place: hostile, advice: hostile, caution: hostile, reasons: [hostile], rules: hostile, id: hostile };
        const hostileDay = new DayAccount(railroad);
        replayJourney(hostileDay, { ...journey, train: hostile }, [warningAt(journey, 2, "warn", more)]);
        hostileDay.addDoubt({ pass: hostile, kind: "weak", candidates: [], words: hostile });
        const page = reportHtml(railroad, hostileDay.close());
        expect(unbalanced(page)).toEqual([]);
        expect(page).not.toMatch(/<script|<svg onload/i);
      }),
      { numRuns: 60, seed: 3 },
    );
  });

  test("a day with very many warnings shows the most urgent in full and says so", () => {
    const many = new DayAccount(railroad);
    const journey = journeyOf({ train: "T", sites: mainWay(2), direction: "rising", startMs: MIDNIGHT, rises: [30, 180] }, 1);
    replayJourney(many, journey);
    for (let i = 0; i < PAGE_LIMITS.detailed + 20; i++) many.addWarning(warningAt(journey, 1, "watch", { id: `w${i}` }));
    many.addWarning(warningAt(journey, 1, "limit", { id: "hot" }));
    const page = reportHtml(railroad, many.close());
    expect(page.match(/<article/g)?.length).toBe(PAGE_LIMITS.detailed);
    expect(page).toContain(`The ${PAGE_LIMITS.detailed} most urgent of ${PAGE_LIMITS.detailed + 21} warnings`);
    expect(page.match(/<h3 id="[^"]*">\d+\. <span class="tag limit">/g)?.length).toBe(1);
  });

  test("an empty day is a page too", () => {
    const page = reportHtml(railroad, new DayAccount(railroad).close());
    expect(unbalanced(page)).toEqual([]);
    expect(page).toContain("No warning.");
  });
});
