import { describe, expect, it } from "vitest";
import { decode } from "../../src/feed/decode.ts";
import type { FeedRecord, LineAnnounced } from "../../src/feed/record.ts";
import { AssembleStage } from "../../src/flow/assemble-stage.ts";
import type { LookTaken } from "../../src/flow/bearings.ts";
import { CorridorLine } from "../../src/flow/corridor-line.ts";
import { takeLine } from "../../src/flow/line-announced.ts";
import { RailroadFlow } from "../../src/flow/railroad-flow.ts";
import type { Leg } from "../../src/journey/journey.ts";
import { LineBook } from "../../src/line/line-book.ts";
import type { Railroad } from "../../src/line/railroad.ts";
import type { NewRecord } from "../../src/log/log.ts";
import type { Watch } from "../../src/site/watch.ts";
import { announced, announcement, changedContents, type LineContents, manyCorridors, railroadOf, withoutColdrill } from "./changed-line.ts";
import { type Arrival, demoRailroad, demoRules, emptyFolded, type Folded, fold, simulated, sinkInto } from "./folded.ts";

const HOURS = 10;
const MM_PER_INCH = 25.4;
const railroad = demoRailroad();
const rules = demoRules();
const { feed } = simulated({ seed: 31, hours: HOURS, world: "mixed", trainsPerDay: 90, group: 32 }, railroad);
const beganMs = feed[0]!.atMs;
const changeMs = beganMs + (HOURS / 2) * 3_600_000;

/** A settled leg, and the site of the leg before it. */
interface Run {
  corridor: string;
  doubt: string;
  from: string | null;
  leg: Leg;
  miles: number;
}

interface Result extends Folded {
  runs: Run[];
  looks: LookTaken[];
}

/** All that comes of a feed on a railroad. */
function folded(line: Railroad, records: readonly Arrival[]): Result {
  const result: Result = { ...emptyFolded(), runs: [], looks: [] };
  const sink = sinkInto(result);
  const settled = (...[journey, leg, doubt, corridor]: Parameters<typeof sink.settled>) => {
    sink.settled(journey, leg, doubt, corridor);
    const before = leg.join === null ? undefined : journey.legs[journey.legs.indexOf(leg) - 1];
    result.runs.push({
      corridor,
      doubt: doubt?.words ?? "",
      from: before?.pass.site ?? null,
      leg,
      miles: before === undefined ? Number.NaN : leg.miles - before.miles,
    });
  };
  const flow = new RailroadFlow(line, rules, { ...sink, settled }, (taken) => result.looks.push(taken));
  for (const [offset, { topic, json }] of records.entries()) {
    const { record, rejected } = decode(topic, json, { topic, partition: 0, offset });
    if (rejected === undefined) result.outcomes[flow.step(record as FeedRecord, topic, 0, offset)]++;
    else result.rejected.push(JSON.stringify(rejected));
  }
  flow.finish();
  return result;
}

/** The railroad as it is, and from the change on. */
function changedTo(change: (file: LineContents) => void): LineBook {
  return new LineBook([railroad, railroadOf(changedContents(change, changeMs))]);
}

const isBetween = (run: Run, one: string, other: string) =>
  (run.from === one && run.leg.pass.site === other) || (run.from === other && run.leg.pass.site === one);
const isAfter = ({ leg }: Run) => leg.pass.endedMs >= changeMs;
const before = folded(railroad, feed);

describe("a line that changes while trains run", { timeout: 120_000 }, () => {
  it("changes nothing when nothing of it changes, and is the same whether it was announced or known from the start", () => {
    const { runs: _runs, looks: _looks, ...plain } = before;
    const {
      runs: _r,
      looks: _l,
      ...known
    } = folded(
      changedTo(() => {}),
      feed,
    );
    expect(known).toEqual(plain);
    const change = (file: LineContents) => {
      for (const link of file.links) link.miles += 0.3;
      withoutColdrill(file);
    };
    const atStart = fold(feed, changedTo(change));
    const contents = changedContents(change, changeMs);
    const came = fold([announced(contents, beganMs), ...feed], railroad);
    expect(came.warnings.length).toBeGreaterThan(5);
    expect({ ...came, outcomes: null }).toEqual({ ...atStart, outcomes: null, rejected: renumbered(atStart.rejected) });
    // It comes through every partition, and says so once.
    const twice = fold([announced(contents, beganMs), announced(contents, beganMs), ...feed], railroad);
    expect([twice.outcomes.repeated, twice.warnings]).toEqual([came.outcomes.repeated + 1, came.warnings]);
  });

  it("with a changed distance: every leg keeps the miles of its time", () => {
    const { runs } = folded(
      changedTo((file) => {
        file.links.find(({ from }) => from === "alder-14")!.miles = 13.9;
      }),
      feed,
    );
    const between = runs.filter((run) => isBetween(run, "alder-14", "brock-27"));
    expect(between.filter((run) => !isAfter(run)).length).toBeGreaterThan(5);
    expect(between.filter(isAfter).length).toBeGreaterThan(5);
    for (const run of between) expect(run.miles).toBeCloseTo(isAfter(run) ? 13.9 : 12.8, 9);
    expect(runs.map(({ leg, from }) => `${leg.pass.id} ${from}`)).toEqual(before.runs.map(({ leg, from }) => `${leg.pass.id} ${from}`));
  });

  it("with a moved milepost: a warning tells where each reading was measured by the line of its time", () => {
    const moved = folded(
      changedTo((file) => {
        for (const site of file.sites) site.milepost += 0.5;
      }),
      feed,
    );
    const readings = moved.warnings.flatMap(({ evidence }) => evidence);
    const offset = ({ site, milepost }: (typeof readings)[number]) => milepost - railroad.sites.get(site)!.milepost;
    const early = readings.filter(({ time }) => Date.parse(time) < changeMs - 3_600_000);
    const late = readings.filter(({ time }) => Date.parse(time) >= changeMs);
    expect(Math.min(early.length, late.length)).toBeGreaterThan(5);
    for (const reading of early) expect(offset(reading)).toBe(0);
    for (const reading of late) expect(offset(reading)).toBeCloseTo(0.5, 9);
    // Trains are joined along links, not by mileposts.
    expect(moved.joins).toEqual(before.joins);
  });

  it("with a new set-out place: it is ahead of the trains that come after its date", () => {
    const place = { id: "new-spur", name: "New Spur", milepost: 60, miles: 6, tracks: [1, 2], carLengths: 20 };
    const { looks } = folded(
      changedTo((file) => void file.links.find(({ from, to }) => from === "dunmere-53" && to === "elmrigg-72")!.setOuts!.push(place)),
      feed,
    );
    const ahead = looks.filter(({ journey, legIndex }) => {
      const leg = journey.legs[legIndex];
      return leg?.pass.site === "dunmere-53" && leg.direction === "rising";
    });
    const sees = ({ look }: LookTaken) => look.ahead.some(({ setOuts }) => setOuts.some(({ setOut }) => setOut.id === "new-spur"));
    expect(ahead.filter(sees).length).toBeGreaterThan(3);
    expect(ahead.filter((one) => !sees(one)).length).toBeGreaterThan(3);
    for (const one of ahead) expect(sees(one)).toBe(one.look.timeMs >= changeMs);
  });

  it("with a changed unit: a site's passes are read in the unit of the time at which they began", () => {
    const site = "brock-27";
    const converted = inMillimetres(feed, site);
    const changed = folded(
      changedTo((file) => {
        file.sites.find(({ id }) => id === site)!.units = { gap: "mm" };
      }),
      converted,
    );
    expect(converted).not.toEqual(feed);
    expect(changed.passes).toEqual(before.passes);
    expect(changed.warnings).toEqual(before.warnings);
    expect(changed.conditions).toEqual(before.conditions);
  });

  it("with a new site: what it sends before its date is refused, from then on its trains are joined over it", () => {
    const earlier = railroadOf(changedContents(withoutColdrill));
    const { runs, rejected } = folded(new LineBook([earlier, railroadOf(changedContents(() => {}, changeMs))]), feed);
    const refused = rejected.map((one) => JSON.parse(one) as { reason: string; raw: string });
    expect(refused.length).toBeGreaterThan(50);
    for (const { reason, raw } of refused) expect([reason, raw]).toEqual(["LINE-001 unknown-site", expect.stringContaining("coldrill-44")]);
    const there = runs.filter(({ leg }) => leg.pass.site === "coldrill-44");
    expect(there.length).toBeGreaterThan(10);
    expect(there.every(isAfter)).toBe(true);
    // Over the site while it was not there.
    expect(runs.filter((run) => isBetween(run, "brock-27", "dunmere-53") && !isAfter(run)).length).toBeGreaterThan(5);
    // Two look-alike trains that ran over the site just before its date: nobody heard them there.
    const ambiguous = (one: string) =>
      one.startsWith("alder dunmere-53/") && one.endsWith("trains look alike and any of them could be this one; nothing was joined.");
    expect(lost(runs).filter((one) => !ambiguous(one))).toEqual([]);
    expect(lost(runs).length).toBeLessThan(2);
  });

  it("with a removed site: its trains go on without it, and it is neither dead nor silent for that", () => {
    const { runs, rejected, conditions } = folded(changedTo(withoutColdrill), feed);
    expect(rejected.length).toBeGreaterThan(50);
    expect(runs.some((run) => run.leg.pass.site === "coldrill-44" && !isAfter(run))).toBe(true);
    expect(runs.some((run) => run.leg.pass.site === "coldrill-44" && run.leg.pass.begunMs >= changeMs)).toBe(false);
    // A train that it heard before the change is joined at the next site after it.
    expect(runs.some((run) => run.from === "coldrill-44" && isAfter(run))).toBe(true);
    expect(lost(runs)).toEqual([]);
    const told = conditions.map((one) => JSON.parse(one) as { site: string; raisedAt: string; kind: string });
    expect(told.filter((one) => one.site === "coldrill-44" && Date.parse(one.raisedAt) >= changeMs)).toEqual([]);
  });
});

describe("an announced line", () => {
  const contents = changedContents(withoutColdrill, changeMs);
  const announcementOf = (line: LineContents) => JSON.parse(announcement(line, beganMs)) as LineAnnounced;

  it("that says other things than what is known of its date is refused, however it came to be known", () => {
    const other = changedContents((file) => {
      withoutColdrill(file);
      file.links[0]!.miles += 1;
    }, changeMs);
    const fromFiles = new LineBook([railroad, railroadOf(contents)]);
    const fromBefore = new LineBook([railroad]);
    expect(takeLine(announcementOf(contents), fromBefore)).toBe("taken");
    for (const book of [fromFiles, fromBefore]) {
      expect(takeLine(announcementOf(contents), book)).toBe("known");
      expect(takeLine(announcementOf(other), book)).toMatchObject({
        reason: "LINE-004 line-not-taken",
        expected: expect.stringContaining(new Date(changeMs).toISOString()),
      });
      expect(takeLine(announcementOf(contents), book)).toBe("known");
      expect(book.at(changeMs).links[0]!.miles).toBe(railroadOf(contents).links[0]!.miles);
    }
    const { rejected } = fold([announced(contents, beganMs), announced(other, beganMs)], railroad);
    expect(rejected.map((one) => (JSON.parse(one) as { reason: string }).reason)).toEqual(["LINE-004 line-not-taken"]);
  });

  it("that 70 corridors could not be told of in one commit is refused, and the stage goes on", () => {
    const stage = new AssembleStage(railroadOf(manyCorridors(70)), { topic: "site-reports", partition: 0 }, "arrival");
    const value = Buffer.from(announcement(manyCorridors(70, changeMs), beganMs));
    const record = { topic: "site-reports", partition: 0, offset: 0, key: "", value, headers: {}, arrivedMs: beganMs };
    const out: NewRecord[] = [];
    expect(stage.step(record, { put: (one) => void out.push(one) })).toBe("rejected");
    expect(out.map(({ topic }) => topic)).toEqual(["rejected"]);
    expect(value.byteLength * 70).toBeGreaterThan(8 * 1024 * 1024);
  });

  it("that comes before anybody can say what time it is takes nothing off the line, and its corridor's sites are its own", () => {
    const line = new CorridorLine("alder", railroadOf(changedContents(() => {}, changeMs)));
    const told: unknown[][] = [];
    const watch = { gone: (...what: unknown[]) => void told.push(what), added: () => {} } as unknown as Watch;
    const earlier = changedContents(withoutColdrill, beganMs);
    expect(line.owned.has("coldrill-44")).toBe(true);
    expect(line.take(announcementOf(earlier), Number.NEGATIVE_INFINITY, watch)).toBe(Math.floor(beganMs));
    expect([told, line.owned.has("coldrill-44")]).toEqual([[], false]);
  });

  it("changes how many sites a corridor hears from its date on", () => {
    const [first, second] = ["alder-14", "brock-27"] as const;
    const only = (sites: string[]) => (file: LineContents) => {
      file.sites = file.sites.filter(({ id }) => sites.includes(id));
      file.links = file.links.filter(({ from, to }) => sites.includes(from) && sites.includes(to));
      file.corridors = [{ ...file.corridors[0]!, sites, leadIn: [] }];
    };
    const line = new CorridorLine("alder", railroadOf(changedContents(only([first]))));
    const watch = { gone: () => {}, added: () => {} } as unknown as Watch;
    expect(line.take(announcementOf(changedContents(only([first, second]), changeMs)), beganMs, watch)).toBe(Math.floor(changeMs));
    expect([line.heardAt(Number.NEGATIVE_INFINITY), line.heardAt(Math.floor(changeMs) - 1), line.heardAt(changeMs)]).toEqual([1, 1, 2]);
  });
});

/** Passes after the change that were joined when nothing changed, and no longer are. */
function lost(runs: readonly Run[]): string[] {
  const nameOf = ({ corridor, leg }: Run) => `${corridor} ${leg.pass.id}`;
  const joined = new Set(before.runs.filter(({ from }) => from !== null).map(nameOf));
  return runs.filter((run) => isAfter(run) && run.from === null && joined.has(nameOf(run))).map((run) => `${nameOf(run)} ${run.doubt}`);
}

/** The same rejected records when one record came before all of them. */
function renumbered(rejected: readonly string[]): string[] {
  return rejected.map((one) => {
    const record = JSON.parse(one) as { id: string; offset: number };
    const offset = record.offset + 1;
    return JSON.stringify({ ...record, id: record.id.replace(String(record.offset), String(offset)), offset });
  });
}

/** From the change on the site sends its axle spacings in mm, by the pass. */
function inMillimetres(records: readonly Arrival[], site: string): Arrival[] {
  const begun = new Map<string, number>();
  return records.map((arrival) => {
    const record = JSON.parse(arrival.json) as {
      type: string;
      site?: string;
      track: string;
      pass: string;
      time: string;
      gap?: (number | null)[];
    };
    if (record.site !== site) return arrival;
    const key = `${record.track}/${record.pass}`;
    if (record.type === "pass-begun") begun.set(key, Date.parse(record.time));
    if (record.gap === undefined || begun.get(key)! < changeMs) return arrival;
    const gap = record.gap.map((value) => (value === null ? null : value * MM_PER_INCH));
    return { ...arrival, json: JSON.stringify({ ...record, gap }) };
  });
}
