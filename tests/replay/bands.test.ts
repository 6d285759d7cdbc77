import fc from "fast-check";
import { describe, expect, test } from "vitest";
import type { Corridor, Link, Railroad, Site } from "../../src/line/railroad.ts";
import { bandsOf } from "../../src/replay/report/bands.ts";
import { clockOf } from "../../src/replay/report/clock.ts";
import { labelRows, linear, ticks, timeTicks } from "../../src/replay/report/scale.ts";
import { sampleRailroad } from "./sample.ts";

const HOUR = 3_600_000;

describe("a corridor laid out as bands", () => {
  const railroad = sampleRailroad();
  const corridor = (id: string) => railroad.corridors.find((one) => one.id === id) as Corridor;

  test("the main line is one band over a jump of mileposts, the branch another that begins at its junction's site", () => {
    const [main, branch, ...more] = bandsOf(railroad, corridor("alder"));
    expect(more).toEqual([]);
    expect(main?.sites.map(({ site }) => site.split("-")[0])).toEqual(
      "alder brock coldrill dunmere elmrigg fennick garrow hollin kestrel lorne".split(" "),
    );
    expect(main?.sites.find(({ site }) => site === "fennick-131")?.miles).toBeCloseTo(77.1);
    expect(branch?.branchOf).toBe("dunmere-53");
    expect(branch?.sites.map(({ site }) => site)).toEqual(["dunmere-53", "sable-11", "tawny-33"]);
  });

  test("the first site of a corridor's list stands above, lead-in sites where they lie", () => {
    const [main] = bandsOf(railroad, corridor("kestrel"));
    expect(main?.sites[0]?.site).toBe("garrow-160");
    expect(main?.sites.at(-1)?.site).toBe("rushy-77");
  });

  test("on any railroad every site of the corridor stands in a band, by rising miles, and a branch begins at a site that stands before it", () => {
    const net = fc.tuple(
      fc.integer({ min: 1, max: 12 }),
      fc.array(fc.tuple(fc.nat(11), fc.nat(11), fc.double({ min: 1, max: 40, noNaN: true })), { maxLength: 20 }),
    );
    fc.assert(
      fc.property(net, ([count, ways]) => {
        const ids = Array.from({ length: count }, (_, i) => `s${i}`);
        const links = ways
          .filter(([a, b]) => a < count && b < count && a !== b)
          .map(([a, b, miles]) => ({ from: `s${a}`, to: `s${b}`, miles }) as Link);
        const sites = new Map(ids.map((id) => [id, { id } as Site]));
        const bands = bandsOf({ sites, links } as Railroad, { id: "c", name: "c", sites: ids, leadIn: [] });
        const placed = new Set<string>();
        for (const { sites: run, branchOf } of bands) {
          if (branchOf !== null) expect(placed).toContain(branchOf);
          for (let i = 1; i < run.length; i++) expect(run[i]?.miles).toBeGreaterThan(run[i - 1]?.miles ?? 0);
          for (const { site } of run) placed.add(site);
        }
        expect(placed.size).toBe(count);
      }),
      { seed: 4 },
    );
  });
});

describe("scales", () => {
  test("ticks are round, within the span and not too many", () => {
    fc.assert(
      fc.property(fc.double({ min: -500, max: 500, noNaN: true }), fc.double({ min: 0.01, max: 5_000, noNaN: true }), (from, span) => {
        const found = ticks(from, from + span, 8);
        expect(found.length).toBeLessThanOrEqual(9);
        for (const tick of found) expect(tick >= from - 1e-9 && tick <= from + span + span * 1e-6).toBe(true);
      }),
      { seed: 5 },
    );
    expect(ticks(0, 190, 7)).toEqual([0, 50, 100, 150]);
    expect(ticks(5, 5, 7)).toEqual([]);
  });

  test("time ticks fall on local hours", () => {
    const clock = clockOf("America/Chicago");
    const from = Date.UTC(2026, 2, 4, 7, 12);
    const found = timeTicks(from, from + 20 * HOUR, 8, clock.offsetMs(from));
    expect(found.map(clock.time)).toEqual(["03:00", "06:00", "09:00", "12:00", "15:00", "18:00", "21:00"]);
  });

  test("a clock ahead of UTC and one behind it", () => {
    const ms = Date.UTC(2026, 6, 1, 12);
    expect(clockOf("Asia/Kolkata").offsetMs(ms)).toBe(5.5 * HOUR);
    expect(clockOf("America/Chicago").offsetMs(ms)).toBe(-5 * HOUR);
    expect(clockOf("UTC").full(ms)).toBe("2026-07-01 12:00:00");
  });

  test("a scale without a span does not divide by nought", () => {
    expect(linear(3, 3, 10, 20).at(3)).toBe(10);
  });

  test("labels in one row never overlap", () => {
    const span = fc.tuple(fc.double({ min: 0, max: 900, noNaN: true }), fc.double({ min: 1, max: 120, noNaN: true }));
    fc.assert(
      fc.property(fc.array(span, { maxLength: 30 }), (raw) => {
        const spans = raw.map(([start, width]) => ({ start, end: start + width })).sort((a, b) => a.start - b.start);
        const rows = labelRows(spans, 3);
        for (const [i, row] of rows.entries()) {
          for (const [j, other] of rows.entries()) {
            if (i >= j || row < 0 || row !== other) continue;
            expect(spans[j]?.start).toBeGreaterThanOrEqual(spans[i]?.end ?? 0);
          }
        }
      }),
      { seed: 6 },
    );
  });
});
