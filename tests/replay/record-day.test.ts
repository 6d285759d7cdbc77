import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { readFeed } from "../../src/feed/feed-file.ts";
import { openFeedWriter } from "../../src/feed/feed-writer.ts";
import { MemoryBroker } from "../../src/log/memory.ts";
import { partitionsOf, TOPICS } from "../../src/log/topics.ts";
import { Outputs } from "../../src/replay/outputs.ts";
import { recordDay } from "../../src/replay/record-day.ts";
import { replay } from "../../src/replay/replay.ts";
import type { SiteCondition } from "../../src/site/condition.ts";
import type { Warning } from "../../src/warning/warning.ts";
import { demoRailroad, demoRules, fold, simulated, standing } from "../flow/folded.ts";
import { LiveRun } from "./live-run.ts";

const railroad = demoRailroad();
const rules = demoRules();
const { feed } = simulated({ seed: 13, hours: 9, world: "mixed", trainsPerDay: 90 }, railroad);

const folder = mkdtempSync(join(tmpdir(), "record-day-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** Records a run and answers with the file. */
async function recordingOf(live: LiveRun, name: string): Promise<string> {
  const path = join(folder, name);
  const writer = openFeedWriter(path);
  await recordDay({ log: live.broker.connect(), fromMs: 0, toMs: Number.POSITIVE_INFINITY, writer, byArrival: true });
  await writer.close();
  return path;
}

/** What a replay of a recording publishes, in its files. */
async function replayed(recording: string, order: "assembled" | "recorded") {
  const out = `${recording}.${order}`;
  const outputs = new Outputs(out);
  const day = await replay({ railroad, rules, feeds: [recording], outputs, order });
  outputs.finish();
  const lines = (name: string) =>
    readFileSync(join(out, `${name}.jsonl`), "utf8")
      .split("\n")
      .slice(0, -1);
  return { day, warnings: lines("warnings"), rejected: lines("rejected"), passes: lines("passes"), conditions: lines("site-conditions") };
}

const versions = (texts: readonly string[]) => [...texts].sort();
const opened = (texts: readonly string[]) => texts.map((text) => JSON.parse(text) as Warning);

describe("a live run that was recorded", () => {
  let live: LiveRun;
  let recording: string;

  beforeAll(async () => {
    live = new LiveRun(feed[0]!.atMs);
    await live.start(railroad, rules);
    await live.feed(feed);
    await live.settled();
    recording = await recordingOf(live, "day.jsonl.zst");
  });
  afterAll(() => live.close());

  it("had something to say, or the rest proves nothing", () => {
    expect(live.texts("warnings").length).toBeGreaterThan(3);
    expect(new Set(live.records("passes").map(({ partition }) => partition)).size).toBeGreaterThan(1);
  });

  it("replayed in the recorded order of passes: every version of every warning, byte for byte", async () => {
    const { warnings, conditions, day } = await replayed(recording, "recorded");
    expect(versions(warnings)).toEqual(versions(live.texts("warnings")));
    expect(versions(conditions)).toEqual(versions(live.texts("site-conditions")));
    const { used, late, repeated, rejected } = day.records.outcomes;
    expect(used + late + repeated + rejected).toBe(day.records.read);
  });

  it("replayed from its readings: the same passes, and in the end the same warnings, byte for byte", async () => {
    const { warnings, passes, rejected, day } = await replayed(recording, "assembled");
    expect(standing(opened(warnings))).toEqual(standing(opened(live.texts("warnings"))));
    const livePasses = new Set(live.texts("passes").filter((text) => text.startsWith('{"id"')));
    expect(passes.sort()).toEqual([...livePasses].sort());
    expect(rejected).toEqual([]);
    const { used, late, repeated, rejected: refused } = day.records.outcomes;
    expect(used + late + repeated + refused).toBe(day.records.read);
  });

  it("holds every record in its partition's order, and partitions in the order in which records came", async () => {
    const next = new Map<string, number>();
    let arrivedMs = 0;
    let lines = 0;
    for await (const batch of readFeed(recording)) {
      for (const { topic, recorded } of batch) {
        const source = `${topic}/${recorded!.partition}`;
        expect(recorded!.offset).toBe(next.get(source) ?? 0);
        next.set(source, recorded!.offset + 1);
        expect(recorded!.arrivedMs).toBeGreaterThanOrEqual(arrivedMs);
        arrivedMs = recorded!.arrivedMs!;
        lines++;
      }
    }
    const wanted = TOPICS.filter(({ flow }) => flow !== "out").flatMap(({ name }) => live.records(name));
    expect(lines).toBe(wanted.length);
  });
});

describe("a backlog folded hours after it came", () => {
  let live: LiveRun;

  beforeAll(async () => {
    live = new LiveRun(feed[0]!.atMs);
    await live.feed(feed, false);
    await live.start(railroad, rules);
    await live.settled();
  });
  afterAll(() => live.close());

  it("leads to warnings that say how late they are, first of all reasons", () => {
    const warnings = opened(live.texts("warnings"));
    expect(warnings.length).toBeGreaterThan(3);
    for (const { time, lateMinutes, reasons } of warnings) {
      const behindMinutes = (live.nowMs - Date.parse(time)) / 60_000;
      expect(Math.abs(lateMinutes! - behindMinutes)).toBeLessThanOrEqual(1);
      expect(reasons[0]).toMatch(/^This is late: the pass was \d+ hours?( \d+ minutes?)? old/);
    }
  });

  it("ends with the warnings of a run that was never behind, but for that", async () => {
    const prompt = new LiveRun(feed[0]!.atMs);
    await prompt.start(railroad, rules);
    await prompt.feed(feed);
    await prompt.settled();
    await prompt.close();
    const late = opened(live.texts("warnings")).map(({ lateMinutes: _late, ...rest }) => ({ ...rest, reasons: rest.reasons.slice(1) }));
    expect(standing(late)).toEqual(standing(opened(prompt.texts("warnings"))));
    expect(prompt.texts("warnings").join()).not.toContain("lateMinutes");
    // Of sites as well, as long as the feed lasts; what comes after it is silence.
    expect(conditionsOf(live)).toEqual(conditionsOf(prompt));
    expect(conditionsOf(live)).toEqual(
      fold(feed, railroad, rules)
        .conditions.map((text) => said(text))
        .sort(),
    );
  });

  it("replayed in its recorded order says the same, byte for byte, how late it was too", async () => {
    const { warnings } = await replayed(await recordingOf(live, "backlog.jsonl.zst"), "recorded");
    expect(versions(warnings)).toEqual(versions(live.texts("warnings")));
  });
});

/** What was said of sites while the feed lasted. */
function conditionsOf(live: LiveRun): string[] {
  const end = new Date(feed.at(-1)!.atMs).toISOString();
  const texts = live.texts("site-conditions").filter((text) => (JSON.parse(text) as SiteCondition).time <= end);
  return texts.map((text) => said(text)).sort();
}

function said(text: string): string {
  const { kind, site, device, state } = JSON.parse(text) as SiteCondition;
  return `${kind} ${site} ${device} ${state}`;
}

describe("a stretch of a log", () => {
  /** A log with one record a second in several partitions. */
  async function logOf(values: readonly (string | Uint8Array)[]) {
    let nowMs = 0;
    const broker = new MemoryBroker({ partitions: partitionsOf(), now: () => nowMs, batchRecords: 3 });
    const log = broker.connect();
    for (const [i, value] of values.entries()) {
      nowMs = i * 1_000;
      await log.append([{ topic: i % 3 === 0 ? "site-reports" : "axle-readings", key: `k${i}`, value }]);
    }
    return log;
  }

  async function recorded(values: readonly (string | Uint8Array)[], fromMs: number, toMs: number) {
    const path = join(folder, "stretch.jsonl");
    const writer = openFeedWriter(path);
    const day = await recordDay({ log: await logOf(values), fromMs, toMs, writer, byArrival: true });
    await writer.close();
    const lines = readFileSync(path, "utf8").split("\n").slice(0, -1);
    return { day, lines, opened: lines.map((line) => JSON.parse(line) as { value: unknown; arrivedMs: number }) };
  }

  const numbered = (count: number) => Array.from({ length: count }, (_, i) => JSON.stringify({ n: i }));

  it.each([
    [0, 1e12],
    [10_000, 20_000],
    [49_000, 60_000],
    [70_000, 80_000],
    [20_000, 20_000],
  ])("from %i to %i holds what came from then until then", async (fromMs, toMs) => {
    const { opened, day } = await recorded(numbered(50), fromMs, toMs);
    const wanted = Array.from({ length: 50 }, (_, i) => i).filter((i) => i * 1_000 >= fromMs && i * 1_000 < toMs);
    expect(opened.map(({ value }) => (value as { n: number }).n)).toEqual(wanted);
    expect(day.lines).toBe(wanted.length);
  });

  it("of an empty log is empty", async () => {
    expect((await recorded([], 0, 1e12)).lines).toEqual([]);
  });

  it("keeps a payload that is no JSON object as text, so that a replay refuses it again", async () => {
    const odd = ['{"cut', '"a string"', "null", '{\n  "spread": [1,\r\n 2]\n}'];
    const { opened, lines } = await recorded(odd, 0, 1e12);
    expect(opened.map(({ value }) => value)).toEqual(['{"cut', '"a string"', "null", { spread: [1, 2] }]);
    expect(lines).toHaveLength(4);
  });
});
