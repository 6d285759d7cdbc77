import { createRequire } from "node:module";
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { partitionOf } from "../../src/log/partition-of.ts";

/** The client's own partitioner, as judge: where another sender puts a site's readings. */
const { Partitioners } = createRequire(import.meta.url)("kafkajs") as typeof import("kafkajs");
const choose = Partitioners.DefaultPartitioner();

function byKafkajs(key: string, partitions: number): number {
  const partitionMetadata = Array.from({ length: partitions }, (_, partitionId) => ({
    partitionId,
    partitionErrorCode: 0,
    leader: 1,
    replicas: [1],
    isr: [1],
  }));
  return choose({ topic: "axle-readings", partitionMetadata, message: { key, value: null } });
}

describe("the partition of a key", () => {
  it("is the one that a Kafka client chooses", () => {
    fc.assert(
      fc.property(fc.string({ minLength: 1, maxLength: 40 }), fc.integer({ min: 1, max: 64 }), (key, partitions) => {
        expect(partitionOf(key, partitions)).toBe(byKafkajs(key, partitions));
      }),
    );
    for (const key of ["alder-14/1", "alder-14/2", "Q118", "a", "ab", "abc", "abcd", "ü/ø"]) {
      expect(partitionOf(key, 12), key).toBe(byKafkajs(key, 12));
    }
  });
});
