import { describe, expect, it } from "vitest";
import type { JoinEvidence, Leg } from "../../src/journey/journey.ts";
import type { Railroad } from "../../src/line/railroad.ts";
import type { Pass } from "../../src/pass/pass.ts";
import type { SiteCondition } from "../../src/site/condition.ts";
import { Watch } from "../../src/site/watch.ts";
import { COLD_AFTER_PASSES, DEAD_AFTER_INTERVALS, MISCOUNT_AXLES } from "../../src/site/watch-numbers.ts";

const START_MS = Date.parse("2026-03-04T00:00:00.000Z");
const MINUTE_MS = 60_000;

const railroad = {
  sites: new Map(["alder-14", "birch-29", "cedar-41"].map((id) => [id, { id, tracks: [{ id: "1", wheel: true }] }])),
} as unknown as Railroad;

function pass(site: string, minute: number, over: Partial<Pass> = {}): Pass {
  const endedMs = START_MS + minute * MINUTE_MS;
  return { id: `${site}/1/${minute}`, site, track: "1", pass: `${minute}`, direction: "rising", endedMs, axles: 400, ...over } as Pass;
}

function leg(at: Pass, over: Partial<Leg> = {}, join: Partial<JoinEvidence> = {}): Leg {
  return {
    pass: at,
    direction: at.direction,
    directionDoubted: false,
    join: { from: "alder-14/1/0", missedSingly: 0, doubled: 0, ...join } as JoinEvidence,
    levels: { medianF: [30, 31], doubts: [[], []] },
    ...over,
  } as unknown as Leg;
}

function beat(site: string, minute: number) {
  return { type: "heartbeat", site, time: new Date(START_MS + minute * MINUTE_MS).toISOString() } as const;
}

function watching() {
  const out: SiteCondition[] = [];
  return { watch: new Watch(railroad, (condition) => out.push(condition)), out };
}

const kinds = (out: SiteCondition[]) => out.map((condition) => `${condition.site} ${condition.kind} ${condition.state}`);

describe("watching the sites", () => {
  it("a site without a word for three of its own intervals is dead, once, until it is heard again", () => {
    const { watch, out } = watching();
    for (let minute = 0; minute <= 50; minute += 5) watch.heartbeat(beat("birch-29", minute));
    watch.tick(START_MS + (50 + 5 * DEAD_AFTER_INTERVALS) * MINUTE_MS);
    expect(out).toEqual([]);
    watch.tick(START_MS + (51 + 5 * DEAD_AFTER_INTERVALS) * MINUTE_MS);
    watch.tick(START_MS + 90 * MINUTE_MS);
    watch.heartbeat(beat("birch-29", 95));
    expect(kinds(out)).toEqual(["birch-29 dead raised", "birch-29 dead cleared"]);
    expect(out[1]?.id).toBe(out[0]?.id);
    expect(out[1]?.version).toBe(2);
  });

  it("a site that never sent a heartbeat is not called dead: nobody knows its rhythm", () => {
    const { watch, out } = watching();
    watch.tick(START_MS + 1e9);
    expect(out).toEqual([]);
  });

  it("a site with heartbeats that misses two trains in a row is silent, and no longer when it reports one", () => {
    const { watch, out } = watching();
    watch.heartbeat(beat("birch-29", 0));
    watch.settled(leg(pass("cedar-41", 30)), ["birch-29"]);
    expect(out).toEqual([]);
    watch.settled(leg(pass("cedar-41", 60)), ["birch-29"]);
    watch.placed(pass("birch-29", 90), leg(pass("birch-29", 90)), null);
    expect(kinds(out)).toEqual(["birch-29 silent raised", "birch-29 silent cleared"]);
  });

  it("a direction that the sites beside it contradict is said from the first train on", () => {
    const { watch, out } = watching();
    const wrong = pass("birch-29", 30, { direction: "falling" });
    watch.placed(wrong, leg(wrong, { direction: "rising", directionDoubted: true }), null);
    expect(kinds(out)).toEqual(["birch-29 direction raised"]);
    expect(out[0]?.device).toBe("1");
    const right = pass("birch-29", 60);
    watch.placed(right, leg(right), null);
    expect(kinds(out)).toEqual(["birch-29 direction raised", "birch-29 direction cleared"]);
  });

  it("an unjoined pass clears no doubt about a direction", () => {
    const { watch, out } = watching();
    const wrong = pass("birch-29", 30);
    watch.placed(wrong, leg(wrong, { directionDoubted: true }), null);
    watch.placed(pass("birch-29", 40), leg(pass("birch-29", 40), { join: null }), null);
    expect(kinds(out)).toEqual(["birch-29 direction raised"]);
  });

  it("a scanner that reads a whole side too low, pass after pass, is cold", () => {
    const { watch, out } = watching();
    for (let n = 1; n <= COLD_AFTER_PASSES; n++) {
      expect(out).toEqual([]);
      const cold = leg(pass("alder-14", n));
      cold.levels.doubts[0].push("scanner-low");
      watch.settled(cold, []);
    }
    expect(kinds(out)).toEqual(["alder-14 cold-scanner raised"]);
    expect(out[0]?.device).toBe("1/left");
  });

  it("a learned bias is said when it is large for sure, and taken back only when it is small", () => {
    const { watch, out } = watching();
    const learned = (biasF: number) =>
      watch.calibration({
        type: "calibration",
        version: 1,
        id: "x",
        time: new Date(START_MS).toISOString(),
        site: "alder-14",
        track: "1",
        rail: "right",
        biasF,
        sdF: 1,
        trains: 20,
        effectiveFromMs: 0,
      });
    for (const biasF of [12.5, -13.5, -10, -9, -7.5]) learned(biasF);
    expect(kinds(out)).toEqual(["alder-14 drift raised", "alder-14 drift cleared"]);
    expect(out[0]?.words).toContain("reads 13.5 °F too low");
  });

  it("a track whose counts disagree with its neighbours' is said by rate, not for one axle", () => {
    const { watch, out } = watching();
    const trains = MISCOUNT_AXLES / 400;
    for (let n = 0; n < trains; n++) watch.settled(leg(pass("cedar-41", n), {}, { missedSingly: n === 0 ? 1 : 0 }), []);
    expect(out).toEqual([]);
    for (let n = 0; n < trains; n++) watch.settled(leg(pass("cedar-41", n), {}, { missedSingly: 1, doubled: 1 }), []);
    expect(kinds(out)).toEqual(["cedar-41 miscount raised"]);
  });
});
