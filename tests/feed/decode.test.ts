import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { decode } from "../../src/feed/decode.ts";
import { AXLES_A_RECORD, RAW_BYTES, RECORD_BYTES } from "../../src/feed/limits.ts";
import type { FeedRecord } from "../../src/feed/record.ts";
import { REFUSALS } from "../../src/feed/reject.ts";
import { axles, begun, consist, deskAction, ended, equipment, heartbeat, samples } from "./samples.ts";

const origin = { topic: "axle-readings", partition: 0, offset: 12 };

function refused(topic: string, value: unknown) {
  const { rejected } = decode(topic, value, { ...origin, topic });
  expect(rejected).toBeDefined();
  return rejected!;
}

describe("a record of the contract", () => {
  it.each(samples)("%s is used as it came: %o", (topic, record) => {
    expect(decode(topic, record, origin)).toEqual({ record, unknownFields: 0 });
  });

  it.each(samples)("%s means the same as bytes, as text and parsed: %o", (topic, record) => {
    const text = JSON.stringify(record);
    expect(decode(topic, text, origin)).toEqual({ record, unknownFields: 0 });
    expect(decode(topic, Buffer.from(text), origin)).toEqual({ record, unknownFields: 0 });
  });

  it("may leave out what not every site has", () => {
    const { speed: _s, tag: _t, ...plain } = axles;
    const lean = { ...plain, left: { bearing: [1, 2] }, right: { bearing: [null, null] } };
    expect(decode("axle-readings", lean, origin).record).toEqual(lean);
    const { ambient: _a, train: _n, ...bare } = begun;
    expect(decode("axle-readings", bare, origin).record).toEqual(bare);
    expect(decode("axle-readings", { ...begun, ambient: null, train: null }, origin).record).toBeDefined();
  });

  it("leaves unknown fields behind, at every depth, and counts them", () => {
    const more = { ...axles, colour: 1, left: { ...axles.left, spare: [1] } };
    expect(decode("axle-readings", more, origin)).toEqual({ record: axles, unknownFields: 2 });
    const beat = { ...heartbeat, firmware: "7", scanners: { "1/left": { reference: 151, gain: 3 }, "1/right": { reference: null } } };
    expect(decode("site-reports", beat, origin)).toEqual({ record: heartbeat, unknownFields: 2 });
    const train = { ...consist, vehicles: consist.vehicles.map((vehicle) => ({ ...vehicle, owner: "x" })) };
    expect(decode("consists", train, origin)).toEqual({ record: consist, unknownFields: 2 });
  });

  it("does not let a field named like a part of the language in", () => {
    const text = JSON.stringify(begun).replace("{", '{"__proto__":{"x":1},"constructor":1,');
    const decoded = decode("axle-readings", text, origin);
    expect(decoded.record).toEqual(begun);
    expect(decoded.unknownFields).toBe(2);
    expect((decoded.record as unknown as { x?: number }).x).toBeUndefined();
  });
});

describe("a record that cannot be used", () => {
  const cases: [what: string, topic: string, value: unknown, reason: string, path: string][] = [
    ["bytes that are no UTF-8", "axle-readings", Buffer.from([0x7b, 0xff, 0x7d]), "FEED-001 not-utf8", ""],
    ["a record cut short", "axle-readings", JSON.stringify(axles).slice(0, 60), "FEED-002 not-json", ""],
    ["an empty payload", "axle-readings", "", "FEED-002 not-json", ""],
    ["a record over 256 KiB", "consists", " ".repeat(RECORD_BYTES + 1), "FEED-003 too-large", ""],
    ["a topic nobody knows", "axles", axles, "FEED-005 unknown-topic", ""],
    ["a topic named like a part of the language", "__proto__", axles, "FEED-005 unknown-topic", ""],
    ["a list", "axle-readings", [axles], "FEED-006 not-an-object", ""],
    ["null", "axle-readings", null, "FEED-006 not-an-object", ""],
    ["a number", "axle-readings", 7, "FEED-006 not-an-object", ""],
    ["a type of another topic", "axle-readings", heartbeat, "FEED-007 unknown-type", "type"],
    ["axles on another topic", "site-reports", axles, "FEED-007 unknown-type", "type"],
    ["no type", "site-reports", {}, "FEED-007 unknown-type", "type"],
    ["a missing field", "axle-readings", { ...axles, ms: undefined }, "FEED-008 missing-field", "ms"],
    ["a missing word", "axle-readings", { ...begun, direction: undefined }, "FEED-008 missing-field", "direction"],
    ["text for a number", "axle-readings", { ...axles, ms: [0, "85"] }, "FEED-009 wrong-type", "ms[1]"],
    ["null where a number must be", "axle-readings", { ...axles, ms: [0, null] }, "FEED-009 wrong-type", "ms[1]"],
    ["a fraction of an axle", "axle-readings", { ...ended, axles: 1.5 }, "FEED-009 wrong-type", "axles"],
    ["null for a rail", "axle-readings", { ...axles, left: null }, "FEED-009 wrong-type", "left"],
    ["heat no bearing has", "axle-readings", { ...axles, left: { bearing: [1, 2001] } }, "FEED-010 out-of-bounds", "left.bearing[1]"],
    ["cold no air has", "axle-readings", { ...axles, right: { bearing: [1, -151] } }, "FEED-010 out-of-bounds", "right.bearing[1]"],
    ["a number too great for JSON readers", "axle-readings", '{"type":"axles","ms":[1e999]}', "FEED-008 missing-field", "site"],
    ["axle 0", "axle-readings", { ...axles, first: 0 }, "FEED-010 out-of-bounds", "first"],
    ["axle 2,001", "axle-readings", { ...axles, first: 2000 }, "FEED-010 out-of-bounds", "first"],
    ["a pass over two hours", "axle-readings", { ...axles, ms: [0, 7_200_001] }, "FEED-010 out-of-bounds", "ms[1]"],
    ["a site with a space", "axle-readings", { ...begun, site: "alder 14" }, "FEED-011 not-an-id", "site"],
    ["an id of 65 characters", "axle-readings", { ...begun, pass: "1".repeat(65) }, "FEED-011 not-an-id", "pass"],
    ["an empty id", "axle-readings", { ...begun, track: "" }, "FEED-011 not-an-id", "track"],
    ["an id with a line break behind it", "axle-readings", { ...begun, track: "1\n" }, "FEED-011 not-an-id", "track"],
    ["a tag with an outer space", "axle-readings", { ...axles, tag: [null, "QX "] }, "FEED-011 not-an-id", "tag[1]"],
    ["a scanner with a space", "site-reports", { ...heartbeat, scanners: { "1 left": {} } }, "FEED-011 not-an-id", 'scanners["1 left"]'],
    ["local time", "axle-readings", { ...begun, time: "2026-03-04T05:06:07+01:00" }, "FEED-012 not-a-time", "time"],
    ["a day that is none", "axle-readings", { ...begun, time: "2026-02-29T05:06:07Z" }, "FEED-012 not-a-time", "time"],
    ["unequal columns", "axle-readings", { ...axles, gap: [null] }, "FEED-013 unequal-columns", "gap"],
    [
      "a wheel column too long",
      "axle-readings",
      { ...axles, left: { bearing: [1, 2], wheel: [1, 2, 3] } },
      "FEED-013 unequal-columns",
      "left.wheel",
    ],
    ["a direction nobody knows", "axle-readings", { ...begun, direction: "north" }, "FEED-014 unknown-word", "direction"],
    ["65 axles", "axle-readings", { ...axles, ms: Array(AXLES_A_RECORD + 1).fill(1) }, "FEED-015 too-many", "ms"],
    ["no axles", "axle-readings", { ...axles, ms: [] }, "FEED-015 too-many", "ms"],
    ["1,001 vehicles", "consists", { ...consist, vehicles: Array(1001).fill(consist.vehicles[0]) }, "FEED-015 too-many", "vehicles"],
    ["65 scanners", "site-reports", { ...heartbeat, scanners: manyScanners(65) }, "FEED-015 too-many", "scanners"],
    ["a note with control characters", "desk-actions", { ...deskAction, text: "\u001b[2J" }, "FEED-016 not-a-text", "text"],
    ["a note of 2,001 characters", "desk-actions", { ...deskAction, text: "x".repeat(2001) }, "FEED-016 not-a-text", "text"],
    ["an action on nothing", "desk-actions", { ...deskAction, warning: undefined }, "FEED-017 no-subject", ""],
    ["a report without its kind", "site-reports", { ...equipment, kind: "cold" }, "FEED-014 unknown-word", "kind"],
  ];

  it.each(cases)("%s is said so", (_what, topic, value, reason, path) => {
    const rejected = refused(topic, value);
    expect([rejected.reason, rejected.path]).toEqual([reason, path]);
    expect(rejected.expected).not.toBe("");
    expect(rejected.advice).not.toBe("");
  });

  it("has its place for an id, whatever is in it", () => {
    expect(refused("axle-readings", "x").id).toBe("axle-readings/0@12");
    expect(refused("axle-readings", "y").id).toBe("axle-readings/0@12");
  });

  it("keeps the text as it came", () => {
    expect(refused("axle-readings", '{"type" : 1}').raw).toBe('{"type" : 1}');
  });

  it("keeps bytes that are no UTF-8 in base64", () => {
    const bytes = Buffer.from([0x7b, 0xff, 0x7d]);
    const rejected = refused("axle-readings", bytes);
    expect([rejected.rawEncoding, Buffer.from(rejected.raw, "base64")]).toEqual(["base64", bytes]);
  });

  it("keeps at most 16 KiB, never half a character, and the length of the whole", () => {
    for (let shift = 0; shift < 4; shift++) {
      const text = "x".repeat(shift) + "🚂".repeat(RECORD_BYTES / 8);
      const rejected = refused("consists", text);
      expect(rejected.rawBytes).toBe(Buffer.byteLength(text));
      expect(Buffer.byteLength(rejected.raw)).toBeLessThanOrEqual(RAW_BYTES);
      expect(text.startsWith(rejected.raw)).toBe(true);
      expect(rejected.rawEncoding).toBe("utf-8");
    }
  });

  it("may be nested as deep as it likes", () => {
    const deep = "[".repeat(100_000) + "]".repeat(100_000);
    expect(refused("axle-readings", deep).reason).toBe("FEED-006 not-an-object");
    expect(refused("axle-readings", JSON.parse(deep)).reason).toBe("FEED-006 not-an-object");
    expect(refused("axle-readings", { ...begun, time: JSON.parse(deep) }).reason).toBe("FEED-009 wrong-type");
  });

  it("has a code nobody else has", () => {
    const codes = Object.keys(REFUSALS).map((reason) => reason.slice(0, 8));
    expect(new Set(codes).size).toBe(codes.length);
  });
});

describe("whatever arrives", () => {
  it("is used or rejected, never thrown", () => {
    fc.assert(
      fc.property(fc.constantFrom("axle-readings", "site-reports", "consists", "desk-actions", "other"), fc.anything(), (topic, value) => {
        const decoded = decode(topic, value, origin);
        expect((decoded.record === undefined) !== (decoded.rejected === undefined)).toBe(true);
      }),
      { numRuns: 2000, seed: 7 },
    );
  });

  it("is used exactly when its schema's own slow parser would use it", () => {
    const reading = fc.oneof(fc.double({ min: -200, max: 2100, noNaN: true }), fc.constant(null), fc.constant(Number.NaN));
    const columns = fc.array(reading, { minLength: 0, maxLength: 4 });
    fc.assert(
      fc.property(columns, columns, fc.integer({ min: -1, max: 2001 }), (left, right, first) => {
        const n = left.length;
        const value = { ...axles, first, ms: Array(n).fill(3), gap: Array(n).fill(70), speed: undefined, tag: undefined };
        const record = { ...value, left: { bearing: left }, right: { bearing: right } };
        const inside = (x: number | null) => x === null || (x >= -150 && x <= 2000);
        const good = n > 0 && right.length === n && first >= 1 && first + n - 1 <= 2000 && [...left, ...right].every(inside);
        expect(decode("axle-readings", record, origin).record !== undefined).toBe(good);
      }),
      { numRuns: 2000, seed: 11 },
    );
  });

  it("comes out the same every time", () => {
    for (const [topic, record] of samples as [string, FeedRecord][]) {
      const text = JSON.stringify(record);
      expect(JSON.stringify(decode(topic, text, origin))).toBe(JSON.stringify(decode(topic, text, origin)));
    }
  });
});

function manyScanners(n: number) {
  return Object.fromEntries(Array.from({ length: n }, (_, i) => [`1/s${i}`, { reference: 1 }]));
}
