import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { AxlesScanner } from "../../src/feed/axles-scanner.ts";
import { decode } from "../../src/feed/decode.ts";
import type { Axles } from "../../src/feed/record.ts";
import { Damage } from "./mutations.ts";
import { axles, envelope } from "./samples.ts";

const origin = { topic: "axle-readings", partition: 0, offset: 1 };

/** What JSON.parse and the schema make of a line: the record, or undefined. */
function judged(line: Buffer): { key: unknown; record: unknown } | undefined {
  try {
    const { topic, key, value } = JSON.parse(line.toString("utf8"));
    const { record, unknownFields } = decode(topic, value, origin);
    return record === undefined || unknownFields > 0 ? undefined : { key, record };
  } catch {
    return undefined;
  }
}

function scanned(scanner: AxlesScanner, line: Buffer): { key: unknown; record: unknown } | undefined {
  const bytes = Buffer.concat([line, Buffer.from("\n")]);
  return scanner.scan(bytes, 0) ? { key: scanner.key, record: scanner.record.kept() } : undefined;
}

function lineOf(record: object, key = "alder-14/1"): Buffer {
  return Buffer.from(JSON.stringify({ topic: "axle-readings", key, value: record }));
}

/** Nearly all as a site would write them; a few that are not for the scanner. */
const number = fc.oneof(
  { weight: 300, arbitrary: fc.integer({ min: 0, max: 60_000 }).map((x) => x / 100) },
  { weight: 100, arbitrary: fc.integer({ min: 0, max: 600 }) },
  { weight: 1, arbitrary: fc.double({ min: -200, max: 2100, noNaN: true }) },
  { weight: 1, arbitrary: fc.constantFrom(0, -1, 1e-7, 123456.7890123, 0.1 + 0.2) },
);
const name = fc.stringMatching(/^[A-Za-z0-9._-]{1,12}$/);
const record = fc.oneof(fc.integer({ min: 1, max: 8 }), fc.constant(64)).chain((n) => {
  const column = fc.array(fc.option(number, { freq: 8 }), { minLength: n, maxLength: n });
  const rail = fc.record({ bearing: column, wheel: column }, { requiredKeys: ["bearing"] });
  const tag = fc.array(fc.option(fc.constantFrom("QX 100123", "A", "B  C.1")), { minLength: n, maxLength: n });
  return fc.record(
    {
      type: fc.constant("axles"),
      site: name,
      track: name,
      pass: name,
      first: fc.integer({ min: 1, max: 1999 }),
      ms: fc.array(fc.integer({ min: 0, max: 7_200_000 }), { minLength: n, maxLength: n }),
      gap: column,
      speed: column,
      left: rail,
      right: rail,
      tag,
    },
    { requiredKeys: ["type", "site", "track", "pass", "first", "ms", "gap", "left", "right"] },
  );
});

/** The same record as it lies in the log, without a line about it. */
function scannedValue(scanner: AxlesScanner, value: Buffer): unknown {
  return scanner.scanValue(value) ? scanner.record.kept() : undefined;
}

/** What JSON.parse and the schema make of a record that stands alone. */
function judgedValue(value: Buffer): unknown {
  const { record, unknownFields } = decode("axle-readings", value, origin);
  return record === undefined || unknownFields > 0 ? undefined : record;
}

describe("a record as it lies in the log", () => {
  it("is the very record that JSON.parse and the schema give", () => {
    const scanner = new AxlesScanner();
    let taken = 0;
    fc.assert(
      fc.property(record, (value) => {
        const bytes = Buffer.from(JSON.stringify(value));
        const got = scannedValue(scanner, bytes);
        if (got === undefined) return;
        taken++;
        expect(got).toStrictEqual(judgedValue(bytes));
        expect(JSON.stringify(got)).toBe(JSON.stringify(judgedValue(bytes)));
      }),
      { numRuns: 1500, seed: 32 },
    );
    expect(taken).toBeGreaterThan(500);
  });

  it("is taken when it is the shortest there is, and never when there is something before or behind it", () => {
    const { speed: _s, tag: _t, ...bare } = axles;
    const short = {
      ...bare,
      site: "a",
      track: "1",
      pass: "2",
      first: 1,
      ms: [0],
      gap: [0],
      left: { bearing: [1] },
      right: { bearing: [2] },
    };
    const bytes = Buffer.from(JSON.stringify(short));
    const scanner = new AxlesScanner();
    expect(scannedValue(scanner, bytes)).toStrictEqual(short);
    for (const more of [" ", "\n", "}", ",", "x"]) {
      expect(scannedValue(scanner, Buffer.concat([bytes, Buffer.from(more)]))).toBeUndefined();
      expect(scannedValue(scanner, Buffer.concat([Buffer.from(more), bytes]))).toBeUndefined();
    }
    for (let end = 0; end < bytes.length; end++) expect(scannedValue(scanner, bytes.subarray(0, end))).toBeUndefined();
  });

  it("is never taken for another when it is damaged", () => {
    const damage = new Damage(78);
    const scanner = new AxlesScanner();
    const sources = [axles, { ...axles, tag: undefined }, { ...axles, speed: undefined, tag: undefined, ms: [1], gap: [2] }];
    const values = sources.map((value) => Buffer.from(JSON.stringify(value)));
    let taken = 0;
    for (let i = 0; i < 150_000; i++) {
      const value = damage.bytes(values[damage.below(values.length)]!);
      const got = scannedValue(scanner, value);
      if (got === undefined) continue;
      taken++;
      if (JSON.stringify(got) !== JSON.stringify(judgedValue(value))) expect(got, value.toString()).toStrictEqual(judgedValue(value));
    }
    expect(taken).toBeGreaterThan(1000);
  });

  it("stays apart for sites and tracks that fall on the same place in memory", () => {
    const scanner = new AxlesScanner();
    for (let round = 0; round < 2; round++) {
      for (let i = 0; i < 9000; i++) {
        const value = { ...axles, site: `s${i}`, track: `${i % 3}`, pass: `${round}` };
        scannedValue(scanner, Buffer.from(JSON.stringify(value)));
        const { site, track, pass } = scanner.record;
        if (site !== value.site || track !== value.track || pass !== value.pass) throw new Error(`site s${i} was mixed up`);
      }
    }
  });
});

describe("axles read straight from the bytes", () => {
  it("are the very records that JSON.parse and the schema give", () => {
    const scanner = new AxlesScanner();
    let taken = 0;
    fc.assert(
      fc.property(record, (value) => {
        const line = lineOf(value, `${value.site}/${value.track}`);
        const got = scanned(scanner, line);
        if (got === undefined) return;
        taken++;
        expect(got).toStrictEqual(judged(line));
        expect(JSON.stringify(got)).toBe(JSON.stringify(judged(line)));
      }),
      { numRuns: 1500, seed: 31 },
    );
    expect(taken).toBeGreaterThan(500);
  });

  it("are taken whenever a site writes them in the usual way", () => {
    const scanner = new AxlesScanner();
    const { speed: _s, tag: _t, ...bare } = axles;
    const { tag: _u, ...untagged } = axles;
    const one: Axles = { ...bare, first: 2000, ms: [7_200_000], gap: [null], left: { bearing: [-150] }, right: { bearing: [2000] } };
    const dead: Axles = { ...axles, left: { bearing: [null, null], wheel: [null, null] } };
    for (const value of [axles, untagged, bare, one, dead, { ...bare, tag: [null, null] }, { ...bare, tag: ["A", "B C"] }]) {
      const line = lineOf(value);
      expect(scanned(scanner, line)).toStrictEqual({ key: "alder-14/1", record: value });
      expect(scanned(scanner, Buffer.concat([line, Buffer.from("\r")]))).toStrictEqual({ key: "alder-14/1", record: value });
    }
  });

  it.each(["0", "-0", "0.0", "-0.0", "1.50", "12.345678901234", "99999.9999999999", "7", "1999.99"])(
    "take %s for the number that it is",
    (text) => {
      const line = Buffer.from(
        lineOf({ ...axles, left: { bearing: [1, 555.5] } })
          .toString()
          .replace("555.5", text),
      );
      const got = scanned(new AxlesScanner(), line);
      expect(got).toStrictEqual(judged(line));
      if (got !== undefined) expect(Object.is((got.record as Axles).left.bearing[1], JSON.parse(text))).toBe(true);
    },
  );

  it.each([
    "01",
    "-",
    "1.",
    ".5",
    "+1",
    "1e2",
    "0.000000000000001",
    "1e999",
    "0x1",
    "1 ",
    "NaN",
    "nul",
    "nulll",
    "2001",
    "-150.1",
    '"1"',
    "true",
    "1,1",
    "",
  ])("leave %s to JSON.parse", (text) => {
    for (const rest of [1, 2]) {
      const value = { ...axles, left: { bearing: rest === 1 ? [555.5, 1] : [1, 555.5] } };
      const line = Buffer.from(lineOf(value).toString().replace("555.5", text));
      expect(scanned(new AxlesScanner(), line)).toBeUndefined();
    }
  });

  it("never take a damaged line for another than JSON.parse does", () => {
    const damage = new Damage(77);
    const scanner = new AxlesScanner();
    const sources = [axles, { ...axles, tag: undefined }, { ...axles, speed: undefined, tag: undefined, ms: [1], gap: [2] }];
    const lines = sources.map((value) => Buffer.from(envelope("axle-readings", value).replace("alder-14", "alder-14/1")));
    let taken = 0;
    for (let i = 0; i < 150_000; i++) {
      const line = damage.bytes(lines[damage.below(lines.length)]!);
      if (line.includes(10)) continue;
      const got = scanned(scanner, line);
      if (got === undefined) continue;
      taken++;
      if (JSON.stringify(got) !== JSON.stringify(judged(line))) expect(got, line.toString()).toStrictEqual(judged(line));
    }
    expect(taken).toBeGreaterThan(1000);
  });

  it("stay apart for sites whose keys fall on the same place in memory", () => {
    const scanner = new AxlesScanner();
    for (let round = 0; round < 2; round++) {
      for (let i = 0; i < 9000; i++) {
        const value = { ...axles, site: `s${i}`, pass: `${round}` };
        if (scanned(scanner, lineOf(value, `s${i}/1`))?.key !== `s${i}/1`) throw new Error(`site s${i} was mixed up`);
        expect(scanner.record.site).toBe(`s${i}`);
      }
    }
  });
});
