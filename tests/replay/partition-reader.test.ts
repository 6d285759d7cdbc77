import { describe, expect, it } from "vitest";
import type { Log, TailHandler } from "../../src/log/log.ts";
import { MemoryBroker } from "../../src/log/memory.ts";
import { TOPICS } from "../../src/log/topics.ts";
import { PartitionReader } from "../../src/replay/partition-reader.ts";

const QUIET_MS = 20;
const ALL = { topic: "passes", partition: 0, from: 0, end: 3, fromMs: Number.NEGATIVE_INFINITY, toMs: Number.POSITIVE_INFINITY };

async function logWith(records: number): Promise<Log> {
  const log = new MemoryBroker({ partitions: new Map(TOPICS.map(({ name }) => [name, 1])) }).connect();
  await log.append(Array.from({ length: records }, (_, n) => ({ topic: "passes", key: "k", value: String(n) })));
  return log;
}

/** Its first reader is handed nothing until the gate opens; every other one is. */
function stalling(log: Log, gate: Promise<void>): Pick<Log, "tail" | "extent"> {
  let isFirst = true;
  return {
    extent: (topic) => log.extent(topic),
    tail: (from, handler) => {
      const waits = isFirst;
      isFirst = false;
      const records: TailHandler["records"] = async (batch) => {
        if (waits) await gate;
        await handler.records(batch);
      };
      return log.tail(from, { records });
    },
  };
}

/** Says of its first batch that the partition ends there, as a broker does that has just become leader and knows no better yet. */
function behind(log: Log): Pick<Log, "tail" | "extent"> {
  let isFirst = true;
  return {
    extent: (topic) => log.extent(topic),
    tail: (from, handler) =>
      log.tail(from, {
        records: async (batch) => {
          const { records } = batch;
          if (isFirst) await handler.records({ ...batch, records: records.slice(0, 1), end: records[0]!.offset + 1 });
          await handler.records(isFirst ? { ...batch, records: records.slice(1) } : batch);
          isFirst = false;
        },
      }),
  };
}

async function valuesOf(reader: PartitionReader): Promise<string[]> {
  const values: string[] = [];
  for (;;) {
    await reader.ready();
    if (reader.nextMs === Number.POSITIVE_INFINITY) break;
    values.push(Buffer.from(reader.take().value).toString());
  }
  await reader.close();
  return values;
}

describe("one partition of a log as a stream", () => {
  it("waits for a log that stands still for a while, however quiet it is, as long as another reader finds more", async () => {
    const gate = Promise.withResolvers<void>();
    const reader = await PartitionReader.open(stalling(await logWith(3), gate.promise), ALL, QUIET_MS);
    setTimeout(() => gate.resolve(), QUIET_MS * 3);
    expect(await valuesOf(reader)).toEqual(["0", "1", "2"]);
  });

  it("says so when the log never hands out what it holds", async () => {
    const reader = await PartitionReader.open(stalling(await logWith(3), new Promise(() => {})), ALL, QUIET_MS);
    await expect(reader.ready()).rejects.toThrow(/passes\/0 holds records from offset 0 on/);
  });

  it("reads up to where the partition ended when it began, whatever a batch says of its end", async () => {
    const reader = await PartitionReader.open(behind(await logWith(3)), ALL, QUIET_MS);
    expect(await valuesOf(reader)).toEqual(["0", "1", "2"]);
  });

  it("ends where what stands at the end is no record for anybody", async () => {
    const reader = await PartitionReader.open(await logWith(2), ALL, QUIET_MS);
    expect(await valuesOf(reader)).toEqual(["0", "1"]);
  });
});
