import { createRequire } from "node:module";
import { gzipSync, zstdCompressSync } from "node:zlib";
import fc from "fast-check";
import { afterAll, beforeAll, describe, expect, it, vi } from "vitest";
import { crc32c } from "../../../src/log/kafka/crc32c.ts";
import { type FetchAnswer, fetchAnswerOf } from "../../../src/log/kafka/fetch-answer.ts";
import { MOST_BYTES, unpackerOf, ZSTD, zstdPacking } from "../../../src/log/kafka/packing.ts";
import { produceBody } from "../../../src/log/kafka/produce-request.ts";
import { type BatchRecord, recordBatch } from "../../../src/log/kafka/record-batch.ts";

/** kafkajs's own reader and writer are the judges of ours. */
const inside = createRequire(import.meta.url);
const theirRequest = inside("kafkajs/src/protocol/requests/produce/v7/request") as (args: object) => {
  encode(): Promise<{ buffer: Buffer }>;
};
const theirAnswer = inside("kafkajs/src/protocol/requests/fetch/v11/response") as { decode(raw: Buffer): Promise<FetchAnswer> };
const GZIP = 1;
const NOW_MS = Date.parse("2026-03-04T05:06:07.000Z");

const text = fc.string({ maxLength: 200 });
const bytes = fc.uint8Array({ maxLength: 300 }).map((part) => Buffer.from(part));
const record: fc.Arbitrary<BatchRecord> = fc.record({
  key: fc.oneof(fc.constant(null), text, bytes),
  value: fc.oneof(fc.constant(null), bytes),
  headers: fc.dictionary(fc.stringMatching(/^[a-z-]{1,20}$/), text, { noNullPrototype: true }),
});
const records = fc.array(record, { minLength: 1, maxLength: 40 });
const writer = { producerId: 7n, producerEpoch: 3, firstSequence: 99, transactional: true };

describe("CRC-32C", () => {
  /** RFC 3720, appendix B.4: 32 bytes of zeros, of ones, rising, falling [P]; the checksums there are little-endian. */
  it.each([
    ["zeros", Buffer.alloc(32), 0x8a9136aa],
    ["ones", Buffer.alloc(32, 0xff), 0x62a8ab43],
    ["rising", Buffer.from(Array.from({ length: 32 }, (_, i) => i)), 0x46dd794e],
    ["falling", Buffer.from(Array.from({ length: 32 }, (_, i) => 31 - i)), 0x113fdb5c],
  ])("is that of the standard for 32 bytes: %s", (_words, sample, expected) => {
    expect(crc32c(sample)).toBe(expected);
    // Wherever it begins, however long what is before and behind.
    expect(crc32c(Buffer.concat([Buffer.alloc(3, 1), sample, Buffer.alloc(5, 9)]), 3, 35)).toBe(expected);
  });
});

describe("a request to produce", () => {
  beforeAll(() => void vi.useFakeTimers({ toFake: ["Date"], now: NOW_MS }));
  afterAll(() => void vi.useRealTimers());

  it("is the very one that kafkajs writes", async () => {
    await fc.assert(
      fc.asyncProperty(records, records, fc.boolean(), async (one, two, transactional) => {
        const args = {
          acks: -1,
          timeout: 30_000,
          transactionalId: transactional ? "rise.follow.passes.0" : null,
          producerId: "123456789012345678",
          producerEpoch: 12,
          compression: 0,
          topicData: [
            {
              topic: "passes",
              partitions: [
                { partition: 0, firstSequence: 5, messages: one },
                { partition: 3, firstSequence: 0, messages: two },
              ],
            },
            { topic: "warnings", partitions: [{ partition: 0, firstSequence: 1, messages: two }] },
          ],
        };
        const theirs = (await theirRequest(args).encode()).buffer;
        if (!theirs.equals(await produceBody(args))) expect(await produceBody(args)).toEqual(theirs);
      }),
      { numRuns: 50, seed: 11, endOnFailure: true },
    );
  });

  it("is packed when that saves something, and not when there is little", async () => {
    const of = async (value: Buffer) =>
      (
        await produceBody({
          acks: -1,
          timeout: 1,
          compression: ZSTD,
          topicData: [{ topic: "t", partitions: [{ partition: 0, messages: [{ key: "k", value }] }] }],
        })
      ).length;
    expect(await of(Buffer.alloc(100_000, "abc"))).toBeLessThan(2_000);
    expect(await of(Buffer.alloc(2_000, "abc"))).toBeGreaterThan(2_000);
  });
});

/** An answer to a fetch with these batches in one partition. */
function answerWith(batches: Buffer): Buffer {
  const head = Buffer.alloc(4 + 2 + 4);
  const name = Buffer.concat([Buffer.from([0, 6]), Buffer.from("passes")]);
  const partition = Buffer.alloc(4 + 2 + 24 + 4 + 16 + 4 + 4);
  partition.writeInt32BE(2, 0);
  partition.writeBigInt64BE(500n, 6);
  partition.writeBigInt64BE(400n, 14);
  partition.writeInt32BE(1, 30);
  partition.writeBigInt64BE(7n, 34);
  partition.writeBigInt64BE(41n, 42);
  partition.writeInt32BE(-1, 50);
  partition.writeInt32BE(batches.length, 54);
  const one = Buffer.from([0, 0, 0, 1]);
  return Buffer.concat([head, one, name, one, partition, batches]);
}

/** The batch as a broker keeps it: with its first offset; `byLog`: and with the broker's time. */
function kept(batch: Buffer, firstOffset: number, byLog = false): Buffer {
  const copy = Buffer.from(batch);
  copy.writeBigInt64BE(BigInt(firstOffset), 0);
  if (byLog) {
    copy.writeInt16BE(copy.readInt16BE(21) | 8, 21);
    copy.writeBigInt64BE(BigInt(NOW_MS + 5_000), 35);
  }
  return copy;
}

function plainly(answer: FetchAnswer): unknown {
  return answer.responses.map(({ topicName, partitions }) => ({
    topicName,
    partitions: partitions.map(({ messages, ...rest }) => ({
      ...{ ...rest, lastStartOffset: undefined },
      messages: messages.map(
        ({ offset, timestamp, key, value, headers, isControlRecord, batchContext: { producerId, inTransaction } }) => ({
          ...{ offset, timestamp, key, value, headers, isControlRecord },
          batchContext: { producerId, inTransaction },
        }),
      ),
    })),
  }));
}

describe("an answer to a fetch", () => {
  it("holds the very records that kafkajs reads, packed or not, and none of a batch that is cut off", async () => {
    await fc.assert(
      fc.asyncProperty(records, records, fc.boolean(), fc.nat({ max: 200 }), async (one, two, byLog, cut) => {
        const first = kept(await recordBatch(one, writer, NOW_MS, null), 1_000, byLog);
        const second = kept(await recordBatch(two, { ...writer, transactional: false }, NOW_MS, zipped), 2 ** 40);
        const raw = answerWith(Buffer.concat([first, second, first.subarray(0, Math.min(cut, first.length - 1))]));
        const ours = fetchAnswerOf(raw, unpackerOf)!;
        expect(plainly(ours)).toEqual(plainly(await theirAnswer.decode(raw)));
        expect(ours.responses[0]!.partitions[0]!.messages.map(({ at }) => at)).toEqual([
          ...one.map((_, k) => 1_000 + k),
          ...two.map((_, k) => 2 ** 40 + k),
        ]);
      }),
      { numRuns: 50, seed: 12, endOnFailure: true },
    );
  });

  it("comes back as it was written when it is packed with zstd", async () => {
    const values = Array.from({ length: 300 }, (_, n) => Buffer.from(`{"n":${n},"text":"${"x".repeat(n * 3)}"}`));
    const batch = await recordBatch(
      values.map((value) => ({ key: "alder", value })),
      writer,
      NOW_MS,
      zstdPacking,
    );
    const { messages } = fetchAnswerOf(answerWith(kept(batch, 5)), unpackerOf)!.responses[0]!.partitions[0]!;
    expect(messages.map(({ value }) => value!.toString())).toEqual(values.map(String));
    expect(messages[7]).toMatchObject({ offset: "12", timestamp: String(NOW_MS), isControlRecord: false });
  });

  it("in an older format is left to kafkajs", async () => {
    const batch = kept(await recordBatch([{ key: null, value: Buffer.from("x") }], writer, NOW_MS, null), 0);
    batch[16] = 1;
    expect(fetchAnswerOf(answerWith(batch), unpackerOf)).toBeNull();
  });

  it("that is damaged ends in words or in other records, never in a hang", async () => {
    const batch = kept(await recordBatch([{ key: "k", value: Buffer.alloc(50, 1), headers: { a: "b" } }], writer, NOW_MS, null), 0);
    const packed = kept(await recordBatch([{ key: "k", value: Buffer.alloc(50, 1) }], writer, NOW_MS, zstdPacking), 0);
    const raw = answerWith(Buffer.concat([batch, packed]));
    fc.assert(
      fc.property(fc.nat({ max: raw.length - 1 }), fc.integer({ min: 0, max: 255 }), (place, byte) => {
        const damaged = Buffer.from(raw);
        damaged[place] = byte;
        try {
          const answer = fetchAnswerOf(damaged, unpackerOf);
          for (const { partitions } of answer?.responses ?? [])
            for (const { messages } of partitions) for (const one of messages) void one.headers;
        } catch (error) {
          expect(error).toBeInstanceOf(Error);
        }
      }),
      { numRuns: 3_000, seed: 13 },
    );
  });

  it("with a batch that nobody can unpack, or that would fill the memory, holds one record in its place, raw, and all the others", async () => {
    const good = await recordBatch([{ key: "k", value: Buffer.from("good") }], writer, NOW_MS, null);
    const two = [1, 2].map((n) => ({ key: `k${n}`, value: Buffer.alloc(MOST_BYTES / 2 + n) }));
    const bomb = kept(await recordBatch(two, writer, NOW_MS, zstdPacking), 7);
    const spoilt = kept(await recordBatch([{ key: "k", value: Buffer.alloc(1_000, 1) }], writer, NOW_MS, zipped), 9);
    spoilt.fill(0x55, 61);
    const plain = kept(await recordBatch([{ key: "k", value: Buffer.alloc(20, 1) }], writer, NOW_MS, null), 10);
    plain[61] = 0x7f;
    const raw = answerWith(Buffer.concat([kept(good, 6), bomb, spoilt, plain, kept(good, 11)]));
    const { messages } = fetchAnswerOf(raw, unpackerOf)!.responses[0]!.partitions[0]!;
    expect(messages.map(({ offset }) => offset)).toEqual(["6", "8", "9", "10", "11"]);
    expect(messages[1]!.value).toEqual(bomb.subarray(61));
    expect(messages[3]!.value).toEqual(plain.subarray(61));
    expect(messages.map(({ key }) => key?.toString() ?? null)).toEqual(["k", null, null, null, "k"]);
    expect(messages.every(({ headers }) => Object.keys(headers).length === 0)).toBe(true);
  });

  it("keeps all values of a name that was given twice, and any name a sender chose", async () => {
    const headers = Object.fromEntries([
      ["__proto__", "x"],
      ["a", "1"],
    ]);
    const batch = kept(await recordBatch([{ key: null, value: null, headers }], writer, NOW_MS, null), 0);
    const [message] = fetchAnswerOf(answerWith(batch), unpackerOf)!.responses[0]!.partitions[0]!.messages;
    expect(Object.entries(message!.headers).map(([name, value]) => [name, String(value)])).toEqual(Object.entries(headers));
  });

  it("is no answer when what was packed is not what it says", () => {
    expect(() => unpackerOf(ZSTD)!(Buffer.from("nothing of the kind"))).toThrow();
    expect(unpackerOf(ZSTD)!(zstdCompressSync("abc")).toString()).toBe("abc");
    expect(unpackerOf(7)).toBeUndefined();
  });
});

const zipped = { codec: GZIP, pack: async (plain: Buffer) => gzipSync(plain) };
