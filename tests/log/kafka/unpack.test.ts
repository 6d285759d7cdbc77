import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { lz4Unpacked } from "../../../src/log/kafka/lz4.ts";
import { snappyUnpacked } from "../../../src/log/kafka/snappy.ts";

/**
 * Examples worked by hand from the format descriptions; that they read what Kafka's own codecs write is shown on a real
 * broker (`faults.test.ts`).
 */

const LZ4_HEADER = [0x04, 0x22, 0x4d, 0x18, 0x60, 0x40, 0x82];
const LZ4_END = [0, 0, 0, 0];
const text = (bytes: Buffer) => bytes.toString("latin1");

describe("LZ4", () => {
  it("takes a block stored as it is", () => {
    expect(text(lz4Unpacked(Buffer.from([...LZ4_HEADER, 3, 0, 0, 0x80, 0x61, 0x62, 0x63, ...LZ4_END])))).toBe("abc");
  });

  it("repeats what is before, also further than it reaches", () => {
    // One literal "a", a match of 9 at distance 1, then the five literals that a block ends with.
    const block = [0x15, 0x61, 1, 0, 0x50, 0x62, 0x63, 0x64, 0x65, 0x66];
    expect(text(lz4Unpacked(Buffer.from([...LZ4_HEADER, block.length, 0, 0, 0, ...block, ...LZ4_END])))).toBe(`${"a".repeat(10)}bcdef`);
  });
});

describe("Snappy", () => {
  it("takes literals and copies", () => {
    // "ab" as a literal, then a copy of 6 at distance 2.
    expect(text(snappyUnpacked(Buffer.from([8, (2 - 1) << 2, 0x61, 0x62, ((6 - 4) << 2) | 1, 2])))).toBe("abababab");
  });

  it("takes the Java clients' stream of blocks", () => {
    const block = [3, 2 << 2, 0x61, 0x62, 0x63];
    const stream = [0x82, 0x53, 0x4e, 0x41, 0x50, 0x50, 0x59, 0, 0, 0, 0, 1, 0, 0, 0, 1];
    expect(text(snappyUnpacked(Buffer.from([...stream, 0, 0, 0, block.length, ...block, 0, 0, 0, block.length, ...block])))).toBe("abcabc");
  });
});

describe("bytes that are not what they say", () => {
  const bytes = fc.uint8Array({ maxLength: 300 });

  it.each([
    ["LZ4", (tail: Uint8Array) => lz4Unpacked(Buffer.from([...LZ4_HEADER, tail.length & 255, 1, 0, 0, ...tail]))],
    ["Snappy", (tail: Uint8Array) => snappyUnpacked(Buffer.from(tail))],
  ])("end in words or in other bytes, never in a hang (%s)", (_kind, unpacked) => {
    fc.assert(
      fc.property(bytes, (tail) => {
        try {
          expect(unpacked(tail).length).toBeLessThanOrEqual(255 * 300 * 64);
        } catch (error) {
          expect(error).toBeInstanceOf(RangeError);
        }
      }),
      { numRuns: 2_000 },
    );
  });
});
