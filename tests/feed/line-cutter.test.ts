import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { LineCutter } from "../../src/feed/line-cutter.ts";
import { axles, envelope, samples } from "./samples.ts";

const line = fc.oneof(
  fc.constantFrom(...samples.map(([topic, record]) => Buffer.from(envelope(topic, record)))),
  fc.constantFrom(Buffer.from(""), Buffer.from("\r"), Buffer.from("{"), Buffer.from("Öl"), Buffer.from([0xff, 0x80])),
  fc.constant(Buffer.from(envelope("axle-readings", { ...axles, site: "Ö" }))),
);

describe("bytes cut into lines", () => {
  it("come out the same wherever the pieces end", () => {
    fc.assert(
      fc.property(fc.array(line, { maxLength: 8 }), fc.array(fc.nat(2000), { maxLength: 6 }), fc.boolean(), (lines, cuts, mark) => {
        const parts = lines.flatMap((bytes) => [bytes, Buffer.from("\n")]);
        const whole = Buffer.concat([...(mark ? [Buffer.from("\ufeff")] : []), ...parts]);
        const once = new LineCutter();
        const expected = [...once.cut(whole), ...once.end()];
        const pieces = new LineCutter();
        const ends = [...cuts.map((at) => Math.min(at, whole.length)), whole.length].sort((a, b) => a - b);
        let from = 0;
        const got = ends.flatMap((end) => {
          const piece = whole.subarray(from, end);
          from = end;
          return pieces.cut(piece);
        });
        expect([...got, ...pieces.end()]).toEqual(expected);
        expect([pieces.lines, pieces.blank]).toEqual([once.lines, once.blank]);
        expect(expected.length + once.blank).toBe(once.lines);
      }),
      { numRuns: 2000, seed: 3 },
    );
  });
});
