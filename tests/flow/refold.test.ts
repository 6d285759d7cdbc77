import { describe, expect, it } from "vitest";
import { AssembleStage } from "../../src/flow/assemble-stage.ts";
import { FollowStage } from "../../src/flow/follow-stage.ts";
import type { StageFold } from "../../src/flow/stage-fold.ts";
import { ticks } from "../../src/flow/ticker.ts";
import { LineBook } from "../../src/line/line-book.ts";
import type { LogRecord, NewRecord, Position } from "../../src/log/log.ts";
import { announcement, changedContents, railroadOf, withoutColdrill } from "./changed-line.ts";
import { demoRailroad, demoRules, simulated } from "./folded.ts";

const railroad = demoRailroad();
const rules = demoRules();
const HOURS = 50;
const TICK_EVERY_MS = 5 * 60_000;
const SOURCES = [
  { topic: "axle-readings", partition: 0 },
  { topic: "site-reports", partition: 0 },
  { topic: "consists", partition: 0 },
  { topic: "desk-actions", partition: 0 },
];

/** A partition as the log would hold it. */
class Shelf {
  readonly records: LogRecord[] = [];

  put(record: NewRecord, topic: string, partition: number, arrivedMs: number): void {
    const { key, value, headers = {} } = record;
    const bytes = typeof value === "string" ? Buffer.from(value) : value;
    this.records.push({ topic, partition, offset: this.records.length, key, value: bytes, headers, arrivedMs });
  }
}

/** One step's outputs, and what a re-fold from there would need. */
interface Step {
  said: string[];
  refoldFrom: number;
}

function run(fold: StageFold, records: readonly LogRecord[]): Step[] {
  return records.map((record) => {
    const said: string[] = [];
    fold.step(record, { put: ({ topic, key, value }) => said.push(`${topic} ${key} ${value}`) });
    return { said, refoldFrom: fold.refoldFrom(record.offset + 1) };
  });
}

/** Folds anew from where a task that stopped at `position` would, and compares all that it says from there on. */
function expectSameFrom(
  position: number,
  make: (start: Position) => StageFold,
  records: readonly LogRecord[],
  plain: readonly Step[],
): void {
  const { refoldFrom } = plain[position - 1]!;
  expect(refoldFrom).toBeLessThanOrEqual(position);
  const again = run(make({ position, refoldFrom }), records.slice(refoldFrom));
  for (let offset = position; offset < records.length; offset++) {
    expect(again[offset - refoldFrom]!.said, `offset ${offset} after a stop at ${position}, folded again from ${refoldFrom}`).toEqual(
      plain[offset]!.said,
    );
  }
}

describe("a stage that is folded again from where its commit says", { timeout: 240_000 }, () => {
  const { feed } = simulated({ seed: 23, hours: HOURS, world: "mixed", trainsPerDay: 40 }, railroad);
  const inbound = new Map(SOURCES.map(({ topic }) => [topic, new Shelf()]));
  let tickMs = feed[0]!.atMs;
  // The line changes on the way: a re-fold that begins after the announcement must work by it all the same.
  const changeMs = tickMs + 8 * 3_600_000;
  const change = changedContents((file) => {
    for (const link of file.links) link.miles += 0.3;
    withoutColdrill(file);
  }, changeMs);
  for (const { topic } of SOURCES) inbound.get(topic)!.put({ topic, key: "", value: announcement(change, tickMs) }, topic, 0, tickMs);
  const known = new LineBook([railroad, railroadOf(change)]);
  // A site out of service from long before a re-fold reaches back to: who folds again must still know.
  const outMs = feed[0]!.atMs + 2 * 3_600_000;
  const site = "coldrill-44";
  const action = { type: "desk-action", id: "a-1", by: "maintainer", action: "out-of-service", site, time: new Date(outMs).toISOString() };
  const out = { topic: "desk-actions", key: site, json: JSON.stringify(action), atMs: outMs };
  const at = feed.findIndex(({ atMs }) => atMs >= outMs);
  for (const { topic, key, json, atMs } of [...feed.slice(0, at), out, ...feed.slice(at)]) {
    for (; tickMs <= atMs; tickMs += TICK_EVERY_MS)
      for (const tick of ticks(SOURCES, tickMs)) inbound.get(tick.topic)!.put(tick, tick.topic, 0, tickMs);
    inbound.get(topic)?.put({ topic, key, value: json }, topic, 0, atMs);
  }

  const passes = new Shelf();
  // Both stages, the records of all sources in the order in which they came, through one partition of passes.
  const assemblers = new Map(SOURCES.map((source) => [source.topic, new AssembleStage(railroad, source, "arrival")]));
  const arrivals = [...inbound.values()].flatMap(({ records }) => records).sort((a, b) => a.arrivedMs - b.arrivedMs);
  for (const record of arrivals) {
    assemblers.get(record.topic)!.step(record, { put: (output) => passes.put(output, "passes", 0, record.arrivedMs) });
  }

  it("says of readings what it would have said", () => {
    const { records } = inbound.get("axle-readings")!;
    // A process that starts has the files; the announcement lies further back than it reads.
    const make = () => new AssembleStage(known, SOURCES[0]!, "arrival");
    const plain = run(new AssembleStage(railroad, SOURCES[0]!, "arrival"), records);
    expect(plain.at(-1)!.refoldFrom).toBeGreaterThan(records.length / 2);
    for (const share of [0.61, 0.97]) expectSameFrom(Math.floor(records.length * share), make, records, plain);
  });

  // Without the files what was announced is restated; with them it is all the same.
  it.each([
    ["without the files of the change", railroad],
    ["with the files of the change", known],
  ])("says of passes what it would have said, %s: warnings, conditions, calibrations, what it keeps", (_, files) => {
    const make = (start?: Position) => new FollowStage(start === undefined ? railroad : files, rules, 0, "arrival", start);
    // What it keeps comes back to it as input, right behind what it said it at.
    const withKept = new Shelf();
    const first = make();
    for (const record of passes.records) {
      withKept.put({ topic: "passes", key: record.key ?? "", value: record.value }, "passes", 0, record.arrivedMs);
      const here = withKept.records.at(-1)!;
      const kept: NewRecord[] = [];
      first.step(here, { put: (output) => void (output.topic === "passes" && kept.push(output)) });
      for (let at = 0; at < kept.length; at++) {
        withKept.put(kept[at]!, "passes", 0, record.arrivedMs);
        first.step(withKept.records.at(-1)!, { put: (output) => void (output.topic === "passes" && kept.push(output)) });
      }
    }
    const { records } = withKept;
    const plain = run(make(), records);
    const said = plain.flatMap(({ said }) => said);
    expect(said.filter((one) => one.startsWith("warnings ")).length).toBeGreaterThan(20);
    expect(said.filter((one) => one.startsWith("calibrations ")).length).toBeGreaterThan(100);
    expect(said.filter((one) => one.startsWith("equipment-seen ")).length).toBeGreaterThan(20);
    expect(plain.at(-1)!.refoldFrom, "the window moves on").toBeGreaterThan(records.length / 6);
    for (const share of [0.2, 0.97]) expectSameFrom(Math.floor(records.length * share), make, records, plain);
  });
});

describe("recorded days fed in, whose first records come before any tick", { timeout: 60_000 }, () => {
  it("are folded again from their beginning, while nothing is forgotten", () => {
    const source = SOURCES[0]!;
    const { feed } = simulated({ seed: 24, hours: 4, world: "mixed", trainsPerDay: 40 }, railroad);
    const readings = feed.filter(({ topic }) => topic === source.topic);
    const records = new Shelf();
    // The first tick comes in the middle of a pass.
    const firstTick = 5;
    for (const [at, { topic, key, json, atMs }] of readings.entries()) {
      if (at >= firstTick && at % 20 === firstTick) records.put(ticks([source], atMs)[0]!, topic, 0, atMs);
      records.put({ topic, key, value: json }, topic, 0, atMs);
    }
    const make = () => new AssembleStage(railroad, source, "feed");
    const plain = run(make(), records.records);
    expect(plain.flatMap(({ said }) => said).length).toBeGreaterThan(20);
    for (const position of [firstTick + 1, firstTick + 2, firstTick + 3, 60, 200]) expectSameFrom(position, make, records.records, plain);
  });
});
