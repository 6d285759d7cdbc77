import { zstdCompressSync } from "node:zlib";
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { ZstdFrames } from "../../src/feed/zstd-frames.ts";

const frames = [
  zstdCompressSync(""),
  zstdCompressSync("a day at alder-14\n".repeat(20_000)),
  zstdCompressSync(Buffer.from(Array.from({ length: 300_000 }, (_, i) => (Math.imul(i, 2654435761) >>> 13) & 255))),
  Buffer.from([0x53, 0x2a, 0x4d, 0x18, 0, 0, 0, 0]),
  Buffer.from([0x50, 0x2a, 0x4d, 0x18, 2, 0, 0, 0, 9, 9]),
];

describe("zstd frames", () => {
  it("are cut where they end, wherever the pieces end, and no byte is lost", () => {
    fc.assert(
      fc.property(
        fc.array(fc.nat(frames.length - 1), { minLength: 1, maxLength: 5 }),
        fc.array(fc.nat(400_000), { maxLength: 5 }),
        (which, cuts) => {
          const chosen = which.map((i) => frames[i]!);
          const whole = Buffer.concat(chosen);
          const splitter = new ZstdFrames();
          const bounds = [...cuts.map((at) => Math.min(at, whole.length)), whole.length].sort((a, b) => a - b);
          let from = 0;
          const parts = bounds.flatMap((end) => {
            const piece = whole.subarray(from, end);
            from = end;
            return splitter.split(piece);
          });
          expect(Buffer.concat(parts).equals(whole)).toBe(true);
          const ends = new Set(endsOf(parts));
          for (const end of endsOf(chosen)) expect(ends.has(end)).toBe(true);
        },
      ),
      { numRuns: 200, seed: 5 },
    );
  });

  it("that are none are passed on for the decompressor to refuse", () => {
    const bytes = Buffer.from("no zstd at all");
    expect(new ZstdFrames().split(bytes)).toEqual([bytes]);
  });
});

function endsOf(parts: Buffer[]): number[] {
  let length = 0;
  return parts.map((part) => {
    length += part.length;
    return length;
  });
}
