import { describe, expect, it } from "vitest";
import type { TimeOfFeed } from "../../src/flow/assemble-stage.ts";
import { FollowStage } from "../../src/flow/follow-stage.ts";
import type { SiteCondition } from "../../src/site/condition.ts";
import { demoRailroad, demoRules } from "./folded.ts";

const railroad = demoRailroad();
const corridor = railroad.corridors[0]!;
const START_MS = Date.parse("2026-03-04T00:00:00Z");
const HEARTBEAT_MS = 5 * 60_000;
const HOURS = 6;
/** Of a partition that is read at a time, before the other one is. */
const AT_ONCE_MS = 40 * 60_000;

/** Conditions of sites that all live, when their heartbeats come through two partitions, one read ahead of the other in turn. */
function conditions(time: TimeOfFeed): string[] {
  const stage = new FollowStage(railroad, demoRules(), 0, time);
  const told: string[] = [];
  let offset = 0;
  const beat = (site: string, ms: number) => {
    const value = Buffer.from(JSON.stringify({ type: "heartbeat", site, time: new Date(ms).toISOString() }));
    const record = { topic: "passes", partition: 0, offset: offset++, key: corridor.id, value, headers: {}, arrivedMs: 0 };
    stage.step(record, {
      put: (output) => {
        if (output.topic !== "site-conditions") return;
        const { kind, site: at, state } = JSON.parse(String(output.value)) as SiteCondition;
        told.push(`${kind} ${at} ${state}`);
      },
    });
  };
  for (let fromMs = START_MS; fromMs < START_MS + HOURS * 3_600_000; fromMs += AT_ONCE_MS) {
    for (const partition of [0, 1]) {
      const sites = corridor.sites.filter((_, i) => i % 2 === partition);
      for (let ms = fromMs; ms < fromMs + AT_ONCE_MS; ms += HEARTBEAT_MS) for (const site of sites) beat(site, ms);
    }
  }
  return told;
}

describe("recorded days fed in through several partitions", () => {
  it("make no site dead, cut off or late that was merely read later than another", () => {
    expect(conditions("feed")).toEqual([]);
  });

  it("would do so if time were taken from what is read", () => {
    expect(conditions("arrival").some((one) => /^(dead|connection) .* raised$/.test(one))).toBe(true);
  });
});
