import { describe, expect, it } from "vitest";
import { decode } from "../../src/feed/decode.ts";
import { RailroadFlow } from "../../src/flow/railroad-flow.ts";
import { siteRulesSchema, USUAL_SITE_RULES } from "../../src/site/site-rules.ts";
import { type Arrival, demoRailroad, demoRules, emptyFolded, fold, simulated, sinkInto } from "../flow/folded.ts";

/** Half of what a send may hold (ENGINEERING 1: 512 KiB), so that a corridor twice as long still fits. */
const MOST_BYTES = 256 * 1024;

describe("what the watch remembers", () => {
  it("after a busy day of a corridor of ten sites fits a record with room to spare", () => {
    const railroad = demoRailroad();
    const { feed } = simulated({ seed: 41, hours: 24, world: "sick", trainsPerDay: 60 }, railroad);
    const flow = new RailroadFlow(railroad, demoRules(), sinkInto(emptyFolded()));
    feed.forEach(({ topic, json }, offset) => {
      const { record } = decode(topic, json, { topic, partition: 0, offset });
      if (record !== undefined) flow.step(record, topic, 0, offset);
    });
    for (const watch of flow.watches) {
      const bytes = Buffer.byteLength(JSON.stringify(watch.state()));
      expect(bytes).toBeGreaterThan(1_000);
      expect(bytes).toBeLessThan(MOST_BYTES);
      expect(JSON.parse(JSON.stringify(watch.state()))).toEqual(watch.state());
    }
  });

  it("feeding a record twice changes no condition", () => {
    const railroad = demoRailroad();
    const { feed } = simulated({ seed: 42, hours: 12, world: "sick", trainsPerDay: 60 }, railroad);
    const conditions = (all: readonly Arrival[]) => fold(all, railroad, demoRules()).conditions;
    const once = conditions(feed);
    expect(once.length).toBeGreaterThan(3);
    expect(conditions(feed.flatMap((one, k) => (k % 3 === 0 ? [one, one] : [one])))).toEqual(once);
  });

  it("the rules of the demonstration say of sites what holds without them", () => {
    for (const set of demoRules().sets) expect(set.sites).toEqual(USUAL_SITE_RULES);
    expect(siteRulesSchema.safeParse({ heartbeat: { deadAfterIntervals: 0 } }).success).toBe(false);
    expect(siteRulesSchema.parse({ tests: { everyDays: 7 } }).tests).toEqual({ ...USUAL_SITE_RULES.tests, everyDays: 7 });
  });
});
