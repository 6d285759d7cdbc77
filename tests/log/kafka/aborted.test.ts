import { createRequire } from "node:module";
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { type Fetched, type FetchedRecord, markAborted } from "../../../src/log/kafka/aborted.ts";

type KafkajsFilter = (fetched: { messages: FetchedRecord[]; abortedTransactions: Fetched["abortedTransactions"] }) => FetchedRecord[];
const kafkajsFilter = createRequire(import.meta.url)("kafkajs/src/consumer/filterAbortedMessages") as KafkajsFilter;

const ABORT = Buffer.from([0, 0, 0, 0]);
const COMMIT = Buffer.from([0, 0, 0, 1]);

interface Made {
  log: FetchedRecord[];
  aborted: { producerId: string; firstOffset: string; lastOffset: number }[];
  /** Offsets that a read-committed reader is to see. */
  committed: string[];
}

/** A partition's log, written by producers whose transactions lie between each other in any way. */
const partition = fc
  .array(fc.record({ producer: fc.nat(4), does: fc.constantFrom("write", "write", "write", "commit", "abort") }), { maxLength: 60 })
  .map((steps): Made => {
    const log: FetchedRecord[] = [];
    const open = new Map<number, string[]>();
    const aborted: Made["aborted"] = [];
    const committed: string[] = [];
    const end = (producer: number, does: string) => {
      const mine = open.get(producer);
      if (mine === undefined) return;
      open.delete(producer);
      const batchContext = { producerId: String(producer), inTransaction: true };
      if (does === "commit") committed.push(...mine);
      else aborted.push({ producerId: String(producer), firstOffset: mine[0]!, lastOffset: log.length });
      log.push({ offset: String(log.length), key: does === "commit" ? COMMIT : ABORT, isControlRecord: true, batchContext });
    };
    for (const { producer, does } of steps) {
      if (does !== "write") end(producer, does);
      else {
        const offset = String(log.length);
        log.push({
          offset,
          key: Buffer.from("k"),
          isControlRecord: false,
          batchContext: { producerId: String(producer), inTransaction: true },
        });
        open.set(producer, [...(open.get(producer) ?? []), offset]);
      }
    }
    for (const producer of [...open.keys()]) end(producer, "abort");
    return { log, aborted, committed };
  });

/** What a broker answers to a fetch from an offset on: the records, and the aborted transactions that reach into them. */
function fetched({ log, aborted }: Made, from: number): Fetched {
  return {
    messages: log.slice(from).map((record) => ({ ...record })),
    abortedTransactions: aborted.filter(({ lastOffset }) => lastOffset >= from).sort((a, b) => a.lastOffset - b.lastOffset),
  };
}

const seen = (messages: readonly FetchedRecord[]) =>
  messages.filter(({ isControlRecord }) => isControlRecord !== true).map(({ offset }) => offset);

describe("records of aborted transactions", () => {
  it("are never handed out, committed ones always, however transactions overlap and wherever the reader begins", () => {
    fc.assert(
      fc.property(partition, fc.nat(60), (made, at) => {
        const from = Math.min(at, made.log.length);
        const answer = fetched(made, from);
        markAborted(answer);
        expect(seen(answer.messages)).toEqual(
          made.committed.filter((offset) => Number(offset) >= from).sort((a, b) => Number(a) - Number(b)),
        );
        expect(answer.messages).toHaveLength(made.log.length - from);
        expect(answer.abortedTransactions ?? []).toEqual([]);
      }),
      { numRuns: 1_000 },
    );
  });

  it("leak through kafkajs's own filter where two of them overlap at the first record that is read", () => {
    const write = (offset: number, producerId: string): FetchedRecord => ({
      offset: String(offset),
      key: Buffer.from("k"),
      isControlRecord: false,
      batchContext: { producerId, inTransaction: true },
    });
    // Producer 1 began at 0, producer 2 at 1; both are aborted. The reader begins at 1.
    const messages = [write(1, "2"), write(2, "1")];
    const abortedTransactions = [
      { producerId: "1", firstOffset: "0" },
      { producerId: "2", firstOffset: "1" },
    ];
    expect(seen(kafkajsFilter({ messages, abortedTransactions }))).toEqual(["1"]);
    const answer: Fetched = { messages, abortedTransactions };
    markAborted(answer);
    expect(seen(answer.messages)).toEqual([]);
  });
});
