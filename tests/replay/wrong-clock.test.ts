import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { LATE_MS } from "../../src/flow/lateness.ts";
import type { PassRecord } from "../../src/pass/pass-record.ts";
import type { SiteCondition } from "../../src/site/condition.ts";
import type { Warning } from "../../src/warning/warning.ts";
import { type Arrival, demoRailroad, demoRules, simulated } from "../flow/folded.ts";
import { LiveRun } from "./live-run.ts";

const railroad = demoRailroad();
const rules = demoRules();
const { feed } = simulated({ seed: 13, hours: 6, world: "mixed", trainsPerDay: 90 }, railroad);

/** In the middle of the line: its readings are needed. */
const SITE = "coldrill-44";
const HOUR_MS = 3_600_000;
const YEAR_MS = 365 * 24 * HOUR_MS;

/** The same feed as it would come with one site's clock off; everything arrives when it did. */
function withClockOff(offMs: number): Arrival[] {
  return feed.map((arrival) => {
    const value = JSON.parse(arrival.json) as { site?: string; time?: string };
    if (value.site !== SITE || value.time === undefined) return arrival;
    return { ...arrival, json: JSON.stringify({ ...value, time: new Date(Date.parse(value.time) + offMs).toISOString() }) };
  });
}

async function run(arrivals: readonly Arrival[]): Promise<LiveRun> {
  const live = new LiveRun(feed[0]!.atMs);
  await live.start(railroad, rules);
  await live.feed(arrivals);
  await live.settled();
  await live.close();
  return live;
}

const opened = <T>(live: LiveRun, topic: string) => live.texts(topic).map((text) => JSON.parse(text) as T);
const passesOf = (live: LiveRun) => opened<PassRecord>(live, "passes").filter(({ flags }) => flags !== undefined);

/** Bearings that stood at a level in the end, by the last pass that read them. */
function standing(live: LiveRun): string[] {
  const last = new Map<string, Warning>();
  for (const warning of opened<Warning>(live, "warnings")) last.set(warning.id, warning);
  return [...last.values()]
    .filter(({ state }) => state !== "withdrawn")
    .map(({ site, track, pass, axle, side, level }) => `${pass.split("@")[0]} ${site}/${track} axle ${axle} ${side}: ${level}`)
    .sort();
}

describe("a site whose clock is off", () => {
  let right: LiveRun;
  beforeAll(async () => {
    right = await run(feed);
  });

  describe.each([
    ["an hour ahead", HOUR_MS],
    ["an hour behind", -HOUR_MS],
    ["a year ahead", YEAR_MS],
    ["a year behind", -YEAR_MS],
  ])("by %s", (_words, offMs) => {
    let off: LiveRun;
    beforeAll(async () => {
      off = await run(withClockOff(offMs));
    });
    afterAll(() => off.close());

    it("stops nothing: every pass of every site is assembled", () => {
      const names = (live: LiveRun) => [...new Set(passesOf(live).map(({ site, track, pass }) => `${site}/${track}/${pass}`))].sort();
      expect(names(off)).toEqual(names(right));
    });

    it("is reported as that site's and no other's; no other's passes are placed by arrival", () => {
      const clocks = opened<SiteCondition>(off, "site-conditions").filter(({ kind }) => kind === "clock");
      expect([...new Set(clocks.map(({ site }) => site))]).toEqual([SITE]);
      const doubted = passesOf(off).filter(({ flags }) => flags.includes("clock-doubted"));
      expect([...new Set(doubted.map(({ site }) => site))]).toEqual([SITE]);
    });

    it("has its readings placed by arrival: no pass is further than a quarter of an hour from when it ended", () => {
      const ended = new Map(passesOf(right).map(({ site, track, pass, ended }) => [`${site}/${track}/${pass}`, Date.parse(ended)]));
      const far = passesOf(off)
        .filter(({ site }) => site === SITE)
        .filter((pass) => Math.abs(Date.parse(pass.ended) - ended.get(`${pass.site}/${pass.track}/${pass.pass}`)!) > LATE_MS);
      expect(far.map(({ id }) => id)).toEqual([]);
    });

    it("leads to the same bearings at the same levels as with a right clock", () => {
      expect(standing(off)).toEqual(standing(right));
    });
  });
});
