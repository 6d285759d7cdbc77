import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { decode } from "../../../src/feed/decode.ts";
import { decodeLine } from "../../../src/feed/feed-line.ts";
import { Intake, type Sender, SITE_TOPICS } from "../../../src/feed/input/intake.ts";
import { offerOf } from "../../../src/feed/input/offer.ts";
import { RawLines } from "../../../src/feed/input/raw-lines.ts";
import { LINE_BYTES, RAW_BYTES } from "../../../src/feed/limits.ts";
import { LineCutter } from "../../../src/feed/line-cutter.ts";
import { type NewRecord, OverloadedError } from "../../../src/log/log.ts";
import { Damage } from "../mutations.ts";
import { axles, begun, deskAction, envelope, heartbeat, samples } from "../samples.ts";
import { Taken } from "./taken.ts";

const EVERYTHING: Sender = { name: "feed-test", topics: new Set(["axle-readings", "site-reports", "consists", "desk-actions"]) };
const SITE: Sender = { name: "feed-site", topics: new Set(SITE_TOPICS) };

const offers = (...lines: string[]) => lines.map((line, i) => offerOf(Buffer.from(line), i + 1));

describe("records from outside", () => {
  it("are in their topic, byte for byte as they were sent, when they are answered", async () => {
    const taken = new Taken();
    const answers = await new Intake(taken.log).take(offers(...samples.map(([topic, record]) => envelope(topic, record))), EVERYTHING);
    expect(answers.map(({ fate }) => fate)).toEqual(samples.map(() => "accepted"));
    for (const topic of EVERYTHING.topics) {
      expect(taken.texts(topic)).toEqual(samples.filter(([one]) => one === topic).map(([, record]) => JSON.stringify(record)));
    }
  });

  it("are keyed by what they say, whatever key the sender wrote beside them", async () => {
    const taken = new Taken();
    const line = JSON.stringify({ topic: "axle-readings", key: "somewhere/else", value: axles });
    await new Intake(taken.log).take(offers(line, envelope("site-reports", heartbeat), envelope("desk-actions", deskAction)), EVERYTHING);
    expect(taken.of("axle-readings")[0]!.key).toBe("alder-14/1");
    expect(taken.of("site-reports")[0]!.key).toBe("alder-14");
    expect(taken.of("desk-actions")[0]!.key).toBe(deskAction.warning);
  });

  it("are opened the same whether the envelope is of the usual shape or not", async () => {
    const taken = new Taken();
    const value = JSON.stringify(begun);
    const answers = await new Intake(taken.log).take(
      offers(
        `{"topic":"axle-readings","key":"k","value":${value}}`,
        `{ "value": ${JSON.stringify(heartbeat)}, "topic": "site-reports" }`,
        `{"topic":"axle-readings","key":"k","value":${JSON.stringify({ ...begun, pass: "2" })},"more":{"a":1}}`,
        `{"topic":"axle-readings","key":"k","value":${JSON.stringify(JSON.stringify({ ...begun, pass: "3" }))}}`,
        `{"topic":"axle-readings","key":"\\u006b","value":${JSON.stringify({ ...begun, pass: "4" })}}`,
      ),
      EVERYTHING,
    );
    expect(answers.map(({ fate }) => fate)).toEqual(Array.from({ length: 5 }, () => "accepted"));
    expect(taken.values("axle-readings").map(({ pass }) => pass)).toEqual(["0117", "2", "3", "4"]);
    expect(taken.values("site-reports")).toEqual([heartbeat]);
  });

  it("sent again are repeats, and are not written again", async () => {
    const taken = new Taken();
    const intake = new Intake(taken.log);
    const once = offers(...samples.map(([topic, record]) => envelope(topic, record)));
    await intake.take(once, EVERYTHING);
    const again = await intake.take(once, EVERYTHING);
    expect(again.map(({ fate }) => fate)).toEqual(samples.map(() => "repeated"));
    expect(taken.of("axle-readings")).toHaveLength(3);
  });

  it("sent twice at once are written once, and neither is answered before that one is durable", async () => {
    let go = () => {};
    const held = new Promise<void>((resolve) => {
      go = resolve;
    });
    const taken = new Taken({ passing: async (point) => (point === "append" ? held : undefined) });
    const intake = new Intake(taken.log);
    const first = intake.take(offers(envelope("site-reports", heartbeat)), EVERYTHING);
    let isAnswered = false;
    const second = intake.take(offers(envelope("site-reports", heartbeat)), EVERYTHING).then((answers) => {
      isAnswered = true;
      return answers;
    });
    await new Promise((resolve) => setImmediate(resolve));
    expect(isAnswered).toBe(false);
    go();
    expect([(await first)[0]!.fate, (await second)[0]!.fate]).toEqual(["accepted", "repeated"]);
    expect(taken.of("site-reports")).toHaveLength(1);
  });

  it("that the log did not take are new when they come again", async () => {
    let isLost = true;
    const taken = new Taken({ fate: () => (isLost ? "undone-unanswered" : "answered") });
    const intake = new Intake(taken.log);
    await expect(intake.take(offers(envelope("site-reports", heartbeat)), EVERYTHING)).rejects.toThrow();
    isLost = false;
    expect((await intake.take(offers(envelope("site-reports", heartbeat)), EVERYTHING))[0]!.fate).toBe("accepted");
  });

  it("are remembered for at least the stated number of records, and never for more than twice that", async () => {
    const taken = new Taken();
    const intake = new Intake(taken.log, { remembered: 10 });
    const numbered = (n: number) => offers(envelope("axle-readings", { ...begun, pass: String(n) }));
    for (let n = 0; n < 10; n++) await intake.take(numbered(n), EVERYTHING);
    expect((await intake.take(numbered(0), EVERYTHING))[0]!.fate).toBe("repeated");
    for (let n = 10; n < 31; n++) await intake.take(numbered(n), EVERYTHING);
    expect((await intake.take(numbered(21), EVERYTHING))[0]!.fate).toBe("repeated");
    expect((await intake.take(numbered(0), EVERYTHING))[0]!.fate).toBe("accepted");
  });

  it("do not hold the request that they came in: what the log is given has memory of its own", async () => {
    const taken = new Taken();
    const given: NewRecord[] = [];
    taken.log.append = async (records) => void given.push(...records);
    const body = Buffer.from(
      Array.from({ length: 500 }, (_, n) => `${envelope("axle-readings", { ...begun, pass: String(n) })}\n`).join(""),
    );
    const before = new RawLines().cut(body).map(({ value }) => Buffer.from(value).toString());
    await new Intake(taken.log).take(new RawLines().cut(body), EVERYTHING);
    body.fill(0);
    expect(given.map(({ value }) => Buffer.from(value).toString())).toEqual(before);
    const size = before.join("").length;
    for (const { value } of given) expect((value as Uint8Array).buffer.byteLength).toBeLessThanOrEqual(size);
  });

  it("beyond what may be waiting are turned away, and nothing of them is taken", async () => {
    let go = () => {};
    const held = new Promise<void>((resolve) => {
      go = resolve;
    });
    const taken = new Taken({ passing: async (point) => (point === "append" ? held : undefined) });
    const intake = new Intake(taken.log, { mostWaitingBytes: 300 });
    const first = intake.take(offers(envelope("axle-readings", axles)), EVERYTHING);
    await expect(intake.take(offers(envelope("axle-readings", { ...axles, first: 3 })), EVERYTHING)).rejects.toBeInstanceOf(
      OverloadedError,
    );
    go();
    await first;
    expect(intake.waitingBytes).toBe(0);
    expect(taken.of("axle-readings")).toHaveLength(1);
  });
});

describe("records that cannot be used", () => {
  it("of a known topic go into it as they came, so that the stage that reads it refuses and counts them", async () => {
    const taken = new Taken();
    const bad = `{"topic":"axle-readings","key":"alder-14/1","value":{"type":"axles","site":"alder-14"}}`;
    const [answer] = await new Intake(taken.log).take(offers(bad), EVERYTHING);
    expect(answer).toMatchObject({ line: 1, fate: "refused", why: { reason: "FEED-008 missing-field" } });
    expect(taken.texts("axle-readings")).toEqual(['{"type":"axles","site":"alder-14"}']);
    expect(
      decode("axle-readings", taken.of("axle-readings")[0]!.value, { topic: "axle-readings", partition: 0, offset: 0 }).rejected?.reason,
    ).toBe(answer!.why!.reason);
  });

  it.each([
    ["no JSON", "FEED-002", "nonsense"],
    ["no envelope", "FEED-004", '{"type":"axles"}'],
    ["a topic that is not known", "FEED-005", envelope("passages", begun)],
  ])("with %s are on `rejected`, raw, with an id of their own", async (_what, code, line) => {
    const taken = new Taken();
    const [answer] = await new Intake(taken.log).take(offers(line), EVERYTHING);
    const [rejected] = taken.values("rejected");
    expect(answer!.why!.reason).toContain(code);
    expect(rejected).toMatchObject({ topic: "feed-test", offset: 1, reason: answer!.why!.reason });
    expect(rejected!.id).toMatch(/^feed-test@[A-Za-z0-9_-]{43}$/);
    expect(line).toContain(String(rejected!.raw));
  });

  it("for a topic that nobody reads keep its name and the key", async () => {
    const taken = new Taken();
    const line = envelope("passages", begun);
    await new Intake(taken.log).take(offers(line), EVERYTHING);
    expect(JSON.parse(String(taken.values("rejected")[0]!.raw))).toEqual(JSON.parse(line));
  });

  it("that are too large for a message are on `rejected` with their beginning", async () => {
    const taken = new Taken();
    const huge = envelope("consists", { type: "consist", train: "x".repeat(300 * 1024) });
    const [answer] = await new Intake(taken.log).take(offers(huge), EVERYTHING);
    expect(answer!.why!.reason).toBe("FEED-003 too-large");
    expect(taken.of("consists")).toHaveLength(0);
    expect(String(taken.values("rejected")[0]!.raw)).toHaveLength(RAW_BYTES);
  });

  it("are those that a sender may not send: a site's token cannot act at the desk", async () => {
    const taken = new Taken();
    const [answer] = await new Intake(taken.log).take(offers(envelope("desk-actions", deskAction)), SITE);
    expect(answer!.why!.reason).toBe("FEED-018 not-permitted");
    expect(taken.of("desk-actions")).toHaveLength(0);
    expect(taken.of("rejected")).toHaveLength(1);
  });

  it("are never ticks: time comes from the processor itself, and a recorded day's ticks and passes are passed over", async () => {
    const taken = new Taken();
    const tick = { type: "tick", time: "2026-03-04T05:06:07.000Z", source: "axle-readings/0", of: 7 };
    const answers = await new Intake(taken.log).take(offers(envelope("axle-readings", tick), envelope("passes", { id: "x" })), EVERYTHING);
    expect(answers.map(({ fate }) => fate)).toEqual(["own", "own"]);
    expect(taken.of("axle-readings")).toHaveLength(0);
  });
});

describe("damaged lines", () => {
  it("are judged exactly as a replay judges them, whatever the damage", async () => {
    const lines = samples.map(([topic, record]) => Buffer.from(envelope(topic, record)));
    const damage = new Damage(77);
    const intake = new Intake(new Taken().log);
    const cutter = new LineCutter();
    const cut = new RawLines();
    for (let i = 0; i < 20_000; i++) {
      const line = Buffer.concat([damage.bytes(lines[damage.below(lines.length)]!), Buffer.from("\n")]);
      const judged = cutter.cut(line).map((one) => decodeLine(one).rejected?.reason ?? "used");
      const answers = await intake.take(cut.cut(line), EVERYTHING);
      expect(
        answers.map(({ why }) => why?.reason ?? "used"),
        line.toString("latin1"),
      ).toEqual(judged);
    }
  });
});

describe("lines cut from bytes", () => {
  it("are the same however the bytes come in pieces", () => {
    const text = samples.map(([topic, record]) => envelope(topic, record)).join("\r\n") + "\n\n";
    const bytes = Buffer.from(text);
    const whole = new RawLines().cut(bytes).map(({ line, value }) => `${line} ${Buffer.from(value)}`);
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 0, max: bytes.length }), { maxLength: 8 }), (cuts) => {
        const cutter = new RawLines();
        const out: string[] = [];
        let from = 0;
        for (const to of [...cuts.sort((a, b) => a - b), bytes.length]) {
          out.push(...cutter.cut(bytes.subarray(from, to)).map(({ line, value }) => `${line} ${Buffer.from(value)}`));
          from = to;
        }
        expect(out).toEqual(whole);
        expect(cutter.end()).toEqual([]);
      }),
    );
  });

  it("that never end are refused at the limit, and the next line is read", () => {
    const cutter = new RawLines();
    const piece = Buffer.alloc(LINE_BYTES / 4 + 1, "x");
    const offered = [piece, piece, piece, piece, piece, Buffer.from(`\n${envelope("axle-readings", begun)}\n`)].flatMap((one) =>
      cutter.cut(one),
    );
    expect(offered.map(({ refused }) => refused?.reason ?? null)).toEqual(["FEED-003 too-large", null]);
    expect(offered[0]!.value).toHaveLength(RAW_BYTES);
    expect(offered[1]!.line).toBe(2);
  });
});
