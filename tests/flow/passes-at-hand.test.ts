import { describe, expect, it } from "vitest";
import { decode } from "../../src/feed/decode.ts";
import { AssembleFold } from "../../src/flow/assemble-fold.ts";
import { AssembleStage } from "../../src/flow/assemble-stage.ts";
import { FollowStage } from "../../src/flow/follow-stage.ts";
import { MOST_AT_HAND_BYTES, PassesAtHand } from "../../src/flow/passes-at-hand.ts";
import type { StageFold } from "../../src/flow/stage-fold.ts";
import { decodeFollowed } from "../../src/flow/wire.ts";
import type { LogRecord, NewRecord } from "../../src/log/log.ts";
import type { Pass } from "../../src/pass/pass.ts";
import { recordOfPass } from "../../src/pass/pass-record.ts";
import { PassText } from "../../src/pass/pass-text.ts";
import { demoRailroad, demoRules, simulated } from "./folded.ts";

const railroad = demoRailroad();
const rules = demoRules();
const LONG_AFTER_MS = 3 * 3_600_000;
const { feed } = simulated({ seed: 5, hours: 6, world: "mixed" });

function recordOf(topic: string, offset: number, key: string, value: Uint8Array | string, arrivedMs: number): LogRecord {
  return { topic, partition: 0, offset, key, value: Buffer.from(value), headers: {}, arrivedMs };
}

/** A feed through one task a topic, and what comes of it through the following one, as a log would bring it. */
function throughBoth(atHand: PassesAtHand | null, lateMs = 0): { passes: NewRecord[]; out: NewRecord[] } {
  const stages = new Map<string, StageFold>();
  const offsets = new Map<string, number>();
  const passes: NewRecord[] = [];
  const out: NewRecord[] = [];
  const follow = new FollowStage(railroad, rules, 0, "arrival", undefined, atHand);
  for (const { topic, key, json, atMs } of feed) {
    const offset = offsets.get(topic) ?? 0;
    offsets.set(topic, offset + 1);
    const stage = stages.get(topic) ?? new AssembleStage(railroad, { topic, partition: 0 }, "arrival", atHand);
    stages.set(topic, stage);
    const said: NewRecord[] = [];
    stage.step(recordOf(topic, offset, key, json, atMs), { put: (record) => said.push(record) });
    for (const record of said) {
      if (record.topic !== "passes") continue;
      passes.push(record);
      follow.step(recordOf("passes", passes.length - 1, record.key, record.value, atMs + lateMs), { put: (one) => out.push(one) });
    }
  }
  return { passes, out };
}

const textOf = ({ topic, key, value, headers }: NewRecord) => JSON.stringify([topic, key, Buffer.from(value).toString(), headers]);

describe("what is read from the log and is at hand", () => {
  it("leads to the very records that parsing leads to", () => {
    const plain = throughBoth(null);
    const atHand = throughBoth(new PassesAtHand());
    expect(plain.passes.filter(({ headers }) => headers!["ce_type"] === "bearing-rise.pass").length).toBeGreaterThan(50);
    expect(plain.out.length).toBeGreaterThan(5);
    expect(atHand.passes.map(textOf)).toEqual(plain.passes.map(textOf));
    expect(atHand.out.map(textOf)).toEqual(plain.out.map(textOf));
  });

  it("is late by when it is read, not by when it was assembled", () => {
    const plain = throughBoth(null, LONG_AFTER_MS);
    const atHand = throughBoth(new PassesAtHand(), LONG_AFTER_MS);
    expect(plain.out.some(({ topic, value }) => topic === "warnings" && Buffer.from(value).includes("lateMinutes"))).toBe(true);
    expect(atHand.out.map(textOf)).toEqual(plain.out.map(textOf));
  });

  it("is the very pass that its text parses to, and every pass that is published can be read", () => {
    const kept = new PassesAtHand();
    let passes = 0;
    for (const { json, pass } of assembled()) {
      kept.put(pass, json, 1);
      const record = recordOf("passes", passes++, "", json, Number.NaN);
      const { followed } = decodeFollowed(record);
      expect(kept.take(json)).toStrictEqual(followed?.type === "pass" ? followed.pass : null);
    }
    expect(passes).toBeGreaterThan(50);
  });
});

/** Passes by the fold alone, records by JSON.parse and the schema, text by JSON.stringify. */
function assembled(): { pass: Pass; json: Buffer }[] {
  const found: { pass: Pass; json: Buffer }[] = [];
  const fold = new AssembleFold(railroad, {
    pass: (pass) => found.push({ pass, json: Buffer.from(JSON.stringify(recordOfPass(pass))) }),
    forward: () => "used",
    rejected: () => {},
  });
  for (const [offset, { topic, json, atMs }] of feed.entries()) {
    const { record } = decode(topic, json, { topic, partition: 0, offset });
    if (record !== undefined) fold.step(record, { topic, partition: 0, offset, arrivedMs: atMs });
  }
  return found;
}

describe("passes at hand", () => {
  const [first, second] = assembled();
  const { pass, json } = first!;

  it("are handed out as often as there are corridors, then let go of", () => {
    const kept = new PassesAtHand();
    kept.put(pass, json, 2);
    expect(kept.take(Uint8Array.from(json))?.id).toBe(pass.id);
    expect(kept.take(json)?.id).toBe(pass.id);
    expect(kept.take(json)).toBeNull();
  });

  it("are not handed out for another text of the same pass, for another pass, or for what is none", () => {
    const kept = new PassesAtHand();
    kept.put(pass, json, 1);
    const other = new PassText().of({ ...pass, train: "another" });
    for (const value of [other, second!.json, Buffer.from("{}"), Buffer.alloc(0), json.subarray(0, 30), Buffer.from('{"id":"x')])
      expect(kept.take(value)).toBeNull();
    expect(kept.take(json)?.id).toBe(pass.id);
  });

  it("are forgotten, the oldest first, when there is no room", () => {
    const kept = new PassesAtHand();
    const many = Math.ceil(MOST_AT_HAND_BYTES / json.length) + 1;
    const ids = Array.from({ length: many }, (_, n) => `${pass.id}-${n}`);
    const texts = ids.map((id) => Buffer.from(json.toString().replace(`"${pass.id}"`, `"${id}"`)));
    for (const [n, id] of ids.entries()) kept.put({ ...pass, id }, texts[n]!, 1);
    expect(kept.take(texts[0]!)).toBeNull();
    expect(kept.take(texts.at(-1)!)?.id).toBe(ids.at(-1));
  });
});
