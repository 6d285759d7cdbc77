import { describe, expect, it } from "vitest";
import { FollowFold } from "../../src/flow/follow-fold.ts";
import type { FollowSink } from "../../src/flow/sink.ts";
import { MARK_MS } from "../../src/flow/source-clock.ts";
import type { SiteCondition } from "../../src/site/condition.ts";
import { demoRailroad, demoRules } from "./folded.ts";

const railroad = demoRailroad();
const corridor = railroad.corridors[0]!;
const START_MS = Date.parse("2026-03-04T00:00:00Z");
const MINUTE_MS = 60_000;
const HEARTBEAT_MS = 5 * MINUTE_MS;

/** A corridor with two sources, reports and readings, and the conditions of its sites. Every site has a heartbeat of its own rhythm. */
class Watched {
  readonly conditions: SiteCondition[] = [];
  private readonly fold: FollowFold;
  private reportsMs = START_MS;
  private readingsMs = START_MS;

  constructor() {
    const nothing = () => {};
    const sink = { warning: nothing, calibration: nothing, functionalTest: nothing, keep: nothing, settled: nothing };
    const condition = (one: SiteCondition) => this.conditions.push(one);
    this.fold = new FollowFold(railroad, demoRules(), { ...sink, condition } as FollowSink);
  }

  /** The partition of reports is read so far: heartbeats, and its ticks between them. `silent` sends nothing. */
  reports(untilMinute: number, silent = ""): void {
    for (; this.reportsMs <= START_MS + untilMinute * MINUTE_MS; this.reportsMs += MARK_MS) {
      for (const [i, site] of corridor.sites.entries()) {
        // Each in its own second of the five minutes.
        const isDue = (this.reportsMs - START_MS) % HEARTBEAT_MS === (i * 7 * MARK_MS) % HEARTBEAT_MS;
        if (isDue && site !== silent)
          this.fold.step(corridor.id, { type: "heartbeat", site, time: new Date(this.reportsMs).toISOString() });
      }
      this.tick("site-reports/0", this.reportsMs);
    }
  }

  /** The partition of readings is read so far, in which there is nothing but ticks. */
  readings(untilMinute: number, stepMs = MARK_MS): void {
    for (; this.readingsMs <= START_MS + untilMinute * MINUTE_MS; this.readingsMs += stepMs) this.tick("axle-readings/0", this.readingsMs);
  }

  private tick(source: string, ms: number): void {
    this.fold.step(corridor.id, { type: "tick", time: new Date(ms).toISOString(), source, of: 2 });
  }
}

describe("while partitions of a backlog overtake each other", () => {
  it("no site is dead, late or has a wrong clock for it: its heartbeats were read long before another partition's readings", () => {
    const watched = new Watched();
    for (let minute = 1; minute <= 30; minute++) {
      watched.reports(minute);
      watched.readings(minute);
    }
    // Three hours of reports are read; the readings come behind, half an hour at a time.
    watched.reports(210);
    watched.readings(210, 30 * MINUTE_MS);
    expect(watched.conditions.map(({ kind, site }) => `${kind} ${site}`)).toEqual([]);
  });

  it("nor when it is the reports that come behind", () => {
    const watched = new Watched();
    watched.readings(210);
    for (let minute = 1; minute <= 210; minute += 30) watched.reports(minute);
    watched.reports(210);
    expect(watched.conditions.map(({ kind, site }) => `${kind} ${site}`)).toEqual([]);
  });

  it("a site that really fell silent is dead, once the last partition has come so far", () => {
    const silent = corridor.sites[2]!;
    const watched = new Watched();
    watched.reports(30);
    watched.reports(120, silent);
    watched.readings(30);
    expect(watched.conditions).toEqual([]);
    watched.readings(120);
    expect(watched.conditions.map(({ kind, site, state }) => `${kind} ${site} ${state}`)).toEqual([`dead ${silent} raised`]);
  });
});
