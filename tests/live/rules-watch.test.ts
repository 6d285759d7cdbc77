import { copyFileSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { AssembleStage } from "../../src/flow/assemble-stage.ts";
import { wallClock } from "../../src/flow/clock.ts";
import { FollowStage } from "../../src/flow/follow-stage.ts";
import { startRulesWatch } from "../../src/live/rules-watch.ts";
import type { LogRecord } from "../../src/log/log.ts";
import { MemoryBroker } from "../../src/log/memory.ts";
import { partitionsOf } from "../../src/log/topics.ts";
import { silentLogger } from "../../src/telemetry/logger.ts";
import type { RuleBook } from "../../src/warning/rule-book.ts";
import { loadRules } from "../../src/warning/rules.ts";
import type { Warning } from "../../src/warning/warning.ts";
import { demoRailroad, simulated } from "../flow/folded.ts";

const STANDARD = "replay-data/rules/standard";
const railroad = demoRailroad();
let folder: string;

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "rise-rules-"));
  for (const name of readdirSync(STANDARD)) copyFileSync(join(STANDARD, name), join(folder, name));
});

afterEach(() => rmSync(folder, { recursive: true, force: true }));

function bookOf(path: string): RuleBook {
  const { rules } = loadRules(path);
  if (rules === null) throw new Error("the rules have mistakes");
  return rules;
}

/** Another rules file in the folder: the newest one with another id and date. */
function newSet(id: string, from: string): void {
  const text = readFileSync(join(STANDARD, readdirSync(STANDARD).sort().at(-1)!), "utf8");
  writeFileSync(join(folder, `${id}.yaml`), text.replace(/^id: .*$/m, `id: ${id}`).replace(/^from: .*$/m, `from: ${from}`));
}

function watched(meanwhile = () => {}) {
  const broker = new MemoryBroker({ partitions: partitionsOf({ passes: 2 }) });
  const book = bookOf(folder);
  meanwhile();
  const watch = startRulesWatch({ path: folder, book, railroad, log: broker.connect(), clock: wallClock, logger: silentLogger() });
  const announced = () => [0, 1].flatMap((partition) => broker.topic("passes", partition));
  return { broker, book, watch, announced };
}

describe("rules changed while running", () => {
  it("are announced to every corridor, once", async () => {
    const { book, watch, announced } = watched();
    await watch.look();
    expect(announced()).toEqual([]);
    newSet("stricter-2027", "2027-01-01T00:00:00.000Z");
    await watch.look();
    await watch.look();
    expect(
      announced()
        .map(({ key }) => key)
        .sort(),
    ).toEqual(railroad.corridors.map(({ id }) => id).sort());
    expect(book.at(Date.parse("2027-06-01T00:00:00.000Z")).id).toBe("stricter-2027");
    expect(book.at(Date.parse("2026-06-01T00:00:00.000Z")).id).not.toBe("stricter-2027");
    await watch.close();
  });

  it("and that came while everything was started are announced at the first look", async () => {
    const { watch, announced } = watched(() => newSet("stricter-2027", "2027-01-01T00:00:00.000Z"));
    await watch.look();
    expect(announced()).toHaveLength(railroad.corridors.length);
    await watch.close();
  });

  it("with a mistake, or that change a set already taken, change nothing", async () => {
    const { watch, announced } = watched();
    writeFileSync(join(folder, "wrong.yaml"), "id: wrong\nfrom: yesterday\n");
    await watch.look();
    rmSync(join(folder, "wrong.yaml"));
    const file = join(folder, readdirSync(folder).sort().at(-1)!);
    writeFileSync(file, readFileSync(file, "utf8").replace(/^from: .*$/m, "from: 2030-01-01T00:00:00.000Z"));
    await watch.look();
    expect(announced()).toEqual([]);
    await watch.close();
  });

  it("are in force from their own date on, whenever they were announced, as if they had been there from the start", () => {
    const { feed } = simulated({ seed: 5, hours: 8, world: "mixed", trainsPerDay: 80, group: 32 }, railroad);
    const halfwayMs = feed[0]!.atMs + 4 * 3_600_000;
    const without = bookOf(folder);
    newSet("from-halfway", new Date(halfwayMs).toISOString());
    const both = bookOf(folder);
    const rules = both.sets.find(({ id }) => id === "from-halfway")!;
    const announcement = JSON.stringify({ type: "rules", time: "2026-03-04T00:00:00.000Z", rules });
    const passes = new MemoryBroker({ partitions: new Map([["passes", 1]]), now: () => 0 });
    const assemble = new AssembleStage(railroad, { topic: "axle-readings", partition: 0 }, "feed");
    for (const [offset, { topic, key, json }] of feed.filter(({ topic }) => topic === "axle-readings").entries()) {
      const record: LogRecord = { topic, partition: 0, offset, key, value: Buffer.from(json), headers: {}, arrivedMs: 0 };
      assemble.step(record, { put: (out) => void (out.topic === "passes" && passes.put(passes.place([out]))) });
    }
    const records = passes.topic("passes", 0);
    const announced = railroad.corridors.map(({ id }) => ({ ...records[0]!, key: id, value: Buffer.from(announcement) }));
    const early = warningsOf(without, [...announced, ...records]);
    expect(early).toEqual(warningsOf(both, records));
    expect(early.some(({ rules }) => rules === "from-halfway")).toBe(true);
    expect(early.some(({ rules }) => rules !== "from-halfway")).toBe(true);
  });
});

function warningsOf(book: RuleBook, records: readonly LogRecord[]): Warning[] {
  const warnings: Warning[] = [];
  const stage = new FollowStage(railroad, book, 0, "feed");
  for (const record of records) {
    stage.step(record, { put: ({ topic, value }) => void (topic === "warnings" && warnings.push(JSON.parse(String(value)) as Warning)) });
  }
  return warnings;
}
