import fc from "fast-check";
import { describe, expect, it } from "vitest";
import {
  allTaken,
  type Placed,
  placed,
  RECORD_BYTES,
  ROUND_BYTES,
  ROUND_RECORDS,
  roundsOf,
  topicMessages,
} from "../../../src/log/kafka/rounds.ts";
import { TooLargeError } from "../../../src/log/log.ts";

const record = fc
  .record({
    topic: fc.constantFrom("passes", "warnings"),
    partition: fc.nat(2),
    bytes: fc.oneof(fc.integer({ min: 41, max: 400 }), fc.integer({ min: 41, max: RECORD_BYTES })),
  })
  .map(({ topic, partition, bytes }): Placed => ({ topic, partition, bytes, message: { value: null, partition } }));

describe("records cut into rounds", () => {
  it("keep their order, lose none, and no partition's batch is over the bounds unless one record is", () => {
    fc.assert(
      fc.property(fc.array(record, { maxLength: 200 }), (records) => {
        const rounds = roundsOf(records);
        expect(rounds.flat()).toEqual(records);
        for (const round of rounds) {
          const batches = Map.groupBy(round, ({ topic, partition }) => `${topic}/${partition}`);
          for (const batch of batches.values()) {
            expect(batch.length).toBeLessThanOrEqual(ROUND_RECORDS);
            if (batch.length > 1) expect(batch.reduce((sum, { bytes }) => sum + bytes, 0)).toBeLessThanOrEqual(ROUND_BYTES);
          }
        }
      }),
    );
  });

  it("are grouped by topic for one send", () => {
    const one = (topic: string, key: string) => placed({ topic, key, value: key }, topic, 0);
    const grouped = topicMessages([one("passes", "a"), one("warnings", "b"), one("passes", "c")]);
    expect(grouped.map(({ topic, messages }) => [topic, messages.map(({ key }) => key)])).toEqual([
      ["passes", ["a", "c"]],
      ["warnings", ["b"]],
    ]);
  });

  it("are refused one by one where no broker would take them", () => {
    expect(() => placed({ topic: "passes", key: "k", value: "x".repeat(RECORD_BYTES) }, "passes", 0)).toThrow(TooLargeError);
  });
});

describe("what the broker says it took", () => {
  it("covers every partition of the round, or the round was not sent", () => {
    fc.assert(
      fc.property(
        fc.uniqueArray(record, { minLength: 1, selector: ({ topic, partition }) => `${topic}/${partition}` }),
        fc.nat(),
        (round, which) => {
          const answers = round.map(({ topic, partition }) => ({ topicName: topic, partition, errorCode: 0 }));
          expect(() => allTaken(round, answers)).not.toThrow();
          const missing = which % round.length;
          expect(() => allTaken(round, answers.toSpliced(missing, 1))).toThrow(
            `${round[missing]!.topic}/${round[missing]!.partition} was not sent`,
          );
        },
      ),
    );
  });
});
