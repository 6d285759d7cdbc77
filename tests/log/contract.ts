import { afterEach, describe, expect, it } from "vitest";
import {
  type Batch,
  type Claim,
  FencedError,
  type Log,
  type LogRecord,
  type NewRecord,
  OverloadedError,
  type Source,
  TooLargeError,
  UnknownOutcomeError,
  UnknownTopicError,
  type Worker,
} from "../../src/log/log.ts";
import { partitionOf } from "../../src/log/partition-of.ts";

/**
 * What every log must keep to, whatever it is made of: the suite that holds memory, sqlite and kafka together. A kind of
 * log gives `makeBed`: a fresh, empty log with the topics asked for.
 */
export interface LogBed {
  /** A process of its own on the same log. */
  connect(options?: { waitingBytes?: number }): Promise<Log>;
  /** Whatever `connect` made is closed by the suite before. */
  close(): Promise<void>;
  /**
   * Makes the answer to the next commit of this log get lost; whether it goes through is for the bed to say, or nobody
   * can (`either`). Left out where nothing can be lost between a process and its log.
   */
  loseAnswer?: (log: Log, how: "done" | "undone") => Promise<"done" | "undone" | "either">;
}

export type MakeBed = (topics: ReadonlyMap<string, number>) => Promise<LogBed>;

export interface ContractOptions {
  /** How long a fact may take to come true: a broker's rebalance takes seconds. */
  patienceMs?: number;
  /** Whether an answer can get lost between a process and this log: then a bed has `loseAnswer`. */
  losesAnswers?: boolean;
}

/** One input of four partitions, one output of one, as most tests need. */
const TOPICS = new Map([
  ["in", 4],
  ["out", 1],
]);

const STAGE = "fold";
const SOURCE: Source = { stage: STAGE, topic: "in", partition: 2 };

export function logContract(kind: string, makeBed: MakeBed, { patienceMs = 5_000, losesAnswers = true }: ContractOptions = {}): void {
  const opened: Log[] = [];
  const beds: LogBed[] = [];

  async function bedOf(topics: ReadonlyMap<string, number> = TOPICS): Promise<LogBed> {
    const bed = await makeBed(topics);
    beds.push(bed);
    return bed;
  }

  async function connect(bed: LogBed, options?: { waitingBytes?: number }): Promise<Log> {
    const log = await bed.connect(options);
    opened.push(log);
    return log;
  }

  afterEach(async () => {
    for (const log of opened.splice(0)) await log.close();
    for (const bed of beds.splice(0)) await bed.close();
  });

  const until = (fact: () => boolean | Promise<boolean>) => waitFor(fact, patienceMs);

  describe(`the ${kind} log: records`, () => {
    it("come back as they went in, in order, with rising offsets", async () => {
      const log = await connect(await bedOf());
      const sent = Array.from({ length: 50 }, (_, i) => toPartition(2, `{"n":${i}}`, { ce_id: `n-${i}` }));
      for (let at = 0; at < sent.length; at += 7) await log.append(sent.slice(at, at + 7));
      const read = await readAll(log, "in", until, 50);
      expect(read.map(text)).toEqual(sent.map(({ value }) => value));
      expect(read.map(({ headers }) => headers["ce_id"])).toEqual(sent.map(({ headers }) => headers?.["ce_id"]));
      expect(read.every(({ topic, partition, key }) => topic === "in" && partition === 2 && key === "k")).toBe(true);
      expect(isRising(read.map(({ offset }) => offset))).toBe(true);
    });

    it("say when they came, never earlier than the one before", async () => {
      const log = await connect(await bedOf());
      const beforeMs = Date.now();
      for (let i = 0; i < 5; i++) await log.append([toPartition(0, `${i}`)]);
      const arrived = (await readAll(log, "in", until, 5)).map(({ arrivedMs }) => arrivedMs);
      expect(Math.min(...arrived)).toBeGreaterThanOrEqual(beforeMs - 1_000);
      expect(Math.max(...arrived)).toBeLessThanOrEqual(Date.now() + 1_000);
      expect(arrived).toEqual([...arrived].sort((a, b) => a - b));
    });

    it("are found by the time at which they came, in every partition", async () => {
      const log = await connect(await bedOf());
      for (let i = 0; i < 9; i++) {
        await log.append([toPartition(1, `${i}`)]);
        await new Promise((resolve) => setTimeout(resolve, 5));
      }
      const records = await readAll(log, "in", until, 9);
      const end = (await log.extent("in"))[1]!.end;
      for (const { arrivedMs } of records) {
        const found = (await log.offsetsAt("in", arrivedMs))[1]!;
        expect(found).toEqual({ partition: 1, offset: records.find((one) => one.arrivedMs >= arrivedMs)!.offset });
      }
      expect((await log.offsetsAt("in", records[0]!.arrivedMs - 60_000))[1]!.offset).toBe(records[0]!.offset);
      const later = await log.offsetsAt("in", Date.now() + 60_000);
      expect(later.map(({ partition }) => partition)).toEqual([0, 1, 2, 3]);
      expect(later[1]!.offset).toBe(end);
      await expect(log.offsetsAt("nowhere", 0)).rejects.toThrow(UnknownTopicError);
    });

    it("go to the partition of their key, the same in every log", async () => {
      const log = await connect(await bedOf());
      const keys = Array.from({ length: 30 }, (_, i) => `alder-${i}/1`);
      await log.append(keys.map((key) => ({ topic: "in", key, value: key })));
      for (const record of await readAll(log, "in", until, 30)) expect(record.partition, text(record)).toBe(partitionOf(text(record), 4));
    });

    it("may hold any bytes", async () => {
      const log = await connect(await bedOf());
      const bytes = Uint8Array.from({ length: 1_000 }, (_, i) => (i * 7) % 256);
      await log.append([{ topic: "in", key: "", value: bytes, partition: 1 }]);
      const [record] = await readAll(log, "in", until, 1);
      expect(Buffer.from(record!.value).equals(bytes)).toBe(true);
    });

    it("of a topic that is not there are refused, and say which topic", async () => {
      const log = await connect(await bedOf());
      const good = toPartition(0, "good");
      await expect(log.append([good, { topic: "nowhere", key: "k", value: "x" }])).rejects.toThrow(UnknownTopicError);
      await expect(log.append([good, { topic: "nowhere", key: "k", value: "x" }])).rejects.toThrow(/nowhere/);
      await expect(log.append([good, toPartition(4, "x")])).rejects.toThrow(UnknownTopicError);
      await expect(log.partitions("nowhere")).rejects.toThrow(UnknownTopicError);
      expect(await count(log, "in")).toBe(0);
    });

    it("are refused when too many are on their way, and what was refused is not in the log", async () => {
      const bed = await bedOf();
      const log = await connect(bed, { waitingBytes: 64 * 1024 });
      const value = (n: number) => `${n}:${"x".repeat(10_000)}`;
      const calls = await Promise.allSettled(Array.from({ length: 100 }, (_, n) => log.append([toPartition(0, value(n))])));
      const taken = calls.flatMap(({ status }, n) => (status === "fulfilled" ? [value(n)] : []));
      const refusals = calls.flatMap((call) => (call.status === "rejected" ? [call.reason as unknown] : []));
      expect(refusals.length).toBeGreaterThan(0);
      for (const reason of refusals) expect(reason).toBeInstanceOf(OverloadedError);
      expect(taken.length).toBeGreaterThan(0);
      expect((await readAll(log, "in", until, taken.length)).map(text).sort()).toEqual(taken.sort());
      await log.append([toPartition(0, "room again")]);
    });

    it("that could never fit at once are refused for good", async () => {
      const log = await connect(await bedOf(), { waitingBytes: 64 * 1024 });
      await expect(log.append([toPartition(0, "x".repeat(70_000))])).rejects.toThrow(TooLargeError);
    });

    it("of a thousand at once are all there", async () => {
      const log = await connect(await bedOf());
      await log.append(Array.from({ length: 1_000 }, (_, i) => ({ topic: "in", key: `k${i}`, value: `${i}` })));
      const numbers = (await readAll(log, "in", until, 1_000)).map((record) => Number(text(record)));
      expect(numbers.sort((a, b) => a - b)).toEqual(Array.from({ length: 1_000 }, (_, i) => i));
    });
  });

  describe(`the ${kind} log: a claim`, () => {
    it("starts at the beginning where nobody committed", async () => {
      const log = await connect(await bedOf());
      expect((await log.claim(SOURCE)).start).toEqual({ position: 0, refoldFrom: 0 });
    });

    it("commits outputs and position together, and the next claim starts there", async () => {
      const bed = await bedOf();
      const log = await connect(bed);
      const claim = await log.claim(SOURCE);
      await claim.commit({ position: 5, refoldFrom: 2, outputs: [out("a"), out("b")] });
      await claim.commit({ position: 9, refoldFrom: 2, outputs: [] });
      await claim.commit({ position: 12, refoldFrom: 7, outputs: [out("c")] });
      expect((await readAll(log, "out", until, 3)).map(text)).toEqual(["a", "b", "c"]);
      await claim.release();
      const next = await connect(bed);
      expect((await next.claim(SOURCE)).start).toEqual({ position: 12, refoldFrom: 7 });
    });

    it("of one source, stage or partition knows nothing of another's", async () => {
      const log = await connect(await bedOf());
      await (await log.claim(SOURCE)).commit({ position: 5, refoldFrom: 5, outputs: [] });
      expect((await log.claim({ ...SOURCE, partition: 1 })).start.position).toBe(0);
      expect((await log.claim({ ...SOURCE, stage: "other" })).start.position).toBe(0);
    });

    it("fences whoever held it, in this process and in another", async () => {
      const bed = await bedOf();
      const first = await connect(bed);
      const second = await connect(bed);
      const old = await first.claim(SOURCE);
      await old.commit({ position: 1, refoldFrom: 0, outputs: [out("old")] });
      const taken = await second.claim(SOURCE);
      expect(taken.start).toEqual({ position: 1, refoldFrom: 0 });
      await expect(old.commit({ position: 2, refoldFrom: 0, outputs: [out("zombie")] })).rejects.toThrow(FencedError);
      await taken.commit({ position: 2, refoldFrom: 1, outputs: [out("new")] });
      const again = await second.claim(SOURCE);
      await expect(taken.commit({ position: 3, refoldFrom: 1, outputs: [out("zombie")] })).rejects.toThrow(FencedError);
      expect(again.start).toEqual({ position: 2, refoldFrom: 1 });
      await again.commit({ position: 3, refoldFrom: 1, outputs: [out("last")] });
      expect((await readAll(second, "out", until, 3)).map(text)).toEqual(["old", "new", "last"]);
    });

    it("commits nothing when one output cannot be placed", async () => {
      const log = await connect(await bedOf());
      const claim = await log.claim(SOURCE);
      const outputs = [out("a"), { topic: "nowhere", key: "k", value: "x" }];
      await expect(claim.commit({ position: 5, refoldFrom: 0, outputs })).rejects.toThrow(UnknownTopicError);
      expect((await log.claim(SOURCE)).start.position).toBe(0);
      expect(await count(log, "out")).toBe(0);
    });

    it("commits ten thousand outputs at once, in order", async () => {
      const log = await connect(await bedOf());
      const claim = await log.claim(SOURCE);
      await claim.commit({ position: 1, refoldFrom: 0, outputs: Array.from({ length: 10_000 }, (_, i) => out(`${i}`)) });
      expect((await readAll(log, "out", until, 10_000)).map(text)).toEqual(Array.from({ length: 10_000 }, (_, i) => `${i}`));
    });

    it("of a topic or partition that is not there is refused", async () => {
      const log = await connect(await bedOf());
      await expect(log.claim({ ...SOURCE, partition: 9 })).rejects.toThrow(UnknownTopicError);
      await expect(log.claim({ ...SOURCE, topic: "nowhere" })).rejects.toThrow(UnknownTopicError);
    });

    for (const how of losesAnswers ? (["done", "undone"] as const) : []) {
      it(`whose answer was lost (${how}): outputs and position are both in the log, or neither`, async () => {
        const bed = await bedOf();
        if (bed.loseAnswer === undefined) throw new Error("the bed has no way to lose an answer");
        const log = await connect(bed);
        const claim: Claim = await log.claim(SOURCE);
        await claim.commit({ position: 1, refoldFrom: 0, outputs: [out("a")] });
        const fate = await bed.loseAnswer(log, how);
        await expect(claim.commit({ position: 2, refoldFrom: 1, outputs: [out("b")] })).rejects.toThrow(UnknownOutcomeError);
        const other = await connect(bed);
        const { start } = await other.claim(SOURCE);
        const seen = (await readAll(other, "out", until, start.position)).map(text);
        expect(seen).toEqual(start.position === 2 ? ["a", "b"] : ["a"]);
        if (fate !== "either") expect(start.position).toBe(fate === "done" ? 2 : 1);
        await expect(claim.commit({ position: 3, refoldFrom: 1, outputs: [out("c")] })).rejects.toThrow();
        expect(await count(other, "out")).toBe(seen.length);
      });
    }
  });

  describe(`the ${kind} log: a tail`, () => {
    it("gives what is there and then what comes, from the offset asked for", async () => {
      const bed = await bedOf();
      const log = await connect(bed);
      const writer = await connect(bed);
      await writer.append(["a", "b", "c"].map((value) => toPartition(2, value)));
      const all = await readAll(log, "in", until, 3);
      const seen: string[] = [];
      const tail = await log.tail([{ topic: "in", partition: 2, offset: all[1]!.offset }], {
        records: async ({ records }) => void seen.push(...records.map(text)),
      });
      await until(() => seen.length === 2);
      await writer.append([toPartition(2, "d"), toPartition(1, "elsewhere")]);
      await until(() => seen.length >= 3);
      expect(seen).toEqual(["b", "c", "d"]);
      await tail.close();
      await writer.append([toPartition(2, "e")]);
      expect(seen).toEqual(["b", "c", "d"]);
    });

    it("never shows what was not committed", async () => {
      const bed = await bedOf();
      const log = await connect(bed);
      const old = await log.claim(SOURCE);
      const taken = await log.claim(SOURCE);
      await expect(old.commit({ position: 1, refoldFrom: 0, outputs: [out("never")] })).rejects.toThrow(FencedError);
      await taken.commit({ position: 1, refoldFrom: 0, outputs: [out("committed")] });
      expect((await readAll(log, "out", until, 1)).map(text)).toEqual(["committed"]);
    });

    it("hands out a partition's next records only when the last were answered", async () => {
      const bed = await bedOf();
      const log = await connect(bed);
      let busy = 0;
      let most = 0;
      let release: () => void = () => {};
      const seen: string[] = [];
      await log.append([toPartition(0, "first")]);
      const tail = await log.tail([{ topic: "in", partition: 0, offset: 0 }], {
        records: async ({ records }) => {
          most = Math.max(most, ++busy);
          if (seen.length === 0) await new Promise<void>((resolve) => (release = resolve));
          seen.push(...records.map(text));
          busy--;
        },
      });
      await until(() => busy === 1);
      for (let i = 0; i < 20; i++) await log.append([toPartition(0, `${i}`)]);
      expect(seen).toEqual([]);
      release();
      await until(() => seen.length === 21);
      expect(most).toBe(1);
      await tail.close();
    });
  });

  describe(`the ${kind} log: members of a stage`, () => {
    it("get every partition once between them, and every record in order", async () => {
      const bed = await bedOf();
      const [a, b] = [await connect(bed), await connect(bed)];
      const [first, second] = [new Recorder(), new Recorder()];
      await a.work(STAGE, ["in"], first);
      await b.work(STAGE, ["in"], second);
      await until(() => first.held.size === 2 && second.held.size === 2);
      expect([...first.held, ...second.held].sort()).toEqual([0, 1, 2, 3]);
      for (let i = 0; i < 40; i++) await a.append([toPartition(i % 4, `${i}`)]);
      await until(() => first.total + second.total >= 40);
      for (const member of [first, second]) {
        for (const partition of member.held) {
          const numbers = member.of(partition).map((record) => Number(text(record)));
          expect(numbers).toEqual(Array.from({ length: 10 }, (_, i) => i * 4 + partition));
        }
      }
    });

    it("take over what a member that left had", async () => {
      const bed = await bedOf();
      const [a, b] = [await connect(bed), await connect(bed)];
      const [first, second] = [new Recorder(), new Recorder()];
      const membership = await a.work(STAGE, ["in"], first);
      await b.work(STAGE, ["in"], second);
      await until(() => first.held.size === 2 && second.held.size === 2);
      await membership.leave();
      await until(() => second.held.size === 4);
      for (let partition = 0; partition < 4; partition++) await b.append([toPartition(partition, `${partition}`)]);
      await until(() => second.total >= 4);
      expect(first.total).toBe(0);
    });

    it("of different stages each get everything", async () => {
      const bed = await bedOf();
      const log = await connect(bed);
      const [first, second] = [new Recorder(), new Recorder()];
      await log.work("one", ["in"], first);
      await log.work("two", ["in"], second);
      await log.append([toPartition(0, "a"), toPartition(3, "b")]);
      await until(() => first.total === 2 && second.total === 2);
    });

    it("read from where they said when they were given the partition", async () => {
      const bed = await bedOf();
      const log = await connect(bed);
      await log.append(["a", "b", "c", "d"].map((value) => toPartition(1, value)));
      const offsets = (await readAll(log, "in", until, 4)).map(({ offset }) => offset);
      const member = new Recorder(async ({ partition }) => (partition === 1 ? offsets[2]! : 0));
      await log.work(STAGE, ["in"], member);
      await until(() => member.total >= 2);
      expect(member.of(1).map(text)).toEqual(["c", "d"]);
    });

    it("are handed nothing while a partition is being taken up, nor while they are busy with it", async () => {
      const bed = await bedOf();
      const log = await connect(bed);
      let ready: () => void = () => {};
      const isReady = new Promise<void>((resolve) => (ready = resolve));
      let done: () => void = () => {};
      const isDone = new Promise<void>((resolve) => (done = resolve));
      let busy = 0;
      let most = 0;
      const member = new Recorder(
        async () => isReady.then(() => 0),
        async () => {
          most = Math.max(most, ++busy);
          await isDone;
          busy--;
        },
      );
      await log.work(STAGE, ["in"], member);
      await log.append([toPartition(0, "a")]);
      await log.append([toPartition(0, "b")]);
      expect(member.total).toBe(0);
      ready();
      await until(() => busy === 1);
      await log.append([toPartition(0, "c")]);
      expect(most).toBe(1);
      done();
      await until(() => member.total === 3);
      expect(most).toBe(1);
      expect(member.of(0).map(text)).toEqual(["a", "b", "c"]);
    });

    it("may stop reading a partition and take it up again from an earlier place, the others going on", async () => {
      const bed = await bedOf();
      const log = await connect(bed);
      await log.append(["a", "b", "c"].map((value) => toPartition(0, value)));
      const from = (await readAll(log, "in", until, 3))[1]!.offset;
      const member = new Recorder();
      const membership = await log.work(STAGE, ["in"], member);
      const source = { stage: STAGE, topic: "in", partition: 0 };
      await until(() => member.total === 3);
      membership.pause(source);
      await log.append([toPartition(0, "d"), toPartition(3, "other")]);
      await until(() => member.of(3).length === 1);
      expect(member.of(0).map(text)).toEqual(["a", "b", "c"]);
      membership.resume(source, from);
      await until(() => member.of(0).length >= 6);
      expect(member.of(0).map(text)).toEqual(["a", "b", "c", "b", "c", "d"]);
    });

    it("are read again from where they ask while they still hold a batch", async () => {
      const bed = await bedOf();
      const log = await connect(bed);
      await log.append(["a", "b"].map((value) => toPartition(0, value)));
      const from = (await readAll(log, "in", until, 2))[0]!.offset;
      let membership: { pause(source: Source): void; resume(source: Source, from: number): void } | null = null;
      let recovered = false;
      const member: Recorder = new Recorder(undefined, async (source) => {
        if (recovered || source.partition !== 0 || membership === null) return;
        recovered = true;
        membership.pause(source);
        membership.resume(source, from);
      });
      membership = await log.work(STAGE, ["in"], member);
      await until(() => member.total >= 2);
      await log.append([toPartition(0, "c")]);
      await until(() => member.of(0).length >= 4 && text(member.of(0).at(-1)!) === "c");
      expect(recovered).toBe(true);
      const read = member.of(0).map(text).join("");
      expect(["ababc", "abcabc"]).toContain(read);
    });

    it("are told how far behind they are", async () => {
      const bed = await bedOf();
      const log = await connect(bed);
      await log.append(["a", "b", "c"].map((value) => toPartition(0, value)));
      const member = new Recorder();
      await log.work(STAGE, ["in"], member);
      await until(() => member.total === 3);
      const last = member.of(0).at(-1)!.offset;
      expect(member.end).toBeGreaterThan(last);
    });

    it("hear by their signal that a partition was taken from them or the log was closed", async () => {
      const bed = await bedOf();
      const log = await connect(bed);
      const signals: AbortSignal[] = [];
      const member = new Recorder(async (_source, signal) => {
        signals.push(signal);
        return 0;
      });
      await log.work(STAGE, ["in"], member);
      await until(() => signals.length === 4);
      expect(signals.some(({ aborted }) => aborted)).toBe(false);
      await log.close();
      expect(signals.every(({ aborted }) => aborted)).toBe(true);
    });

    it("leave only when their last batch was answered", async () => {
      const bed = await bedOf();
      const log = await connect(bed);
      let done: () => void = () => {};
      let busy = false;
      const member = new Recorder(undefined, async () => {
        busy = true;
        await new Promise<void>((resolve) => (done = resolve));
        busy = false;
      });
      const membership = await log.work(STAGE, ["in"], member);
      await log.append([toPartition(0, "a")]);
      await until(() => busy);
      let left = false;
      const leaving = membership.leave().then(() => (left = true));
      await Promise.resolve();
      expect(left).toBe(false);
      done();
      await leaving;
      expect(busy).toBe(false);
    });

    it("may append and commit what they were handed, each record once", async () => {
      const bed = await bedOf();
      const log = await connect(bed);
      const claims = new Map<number, Claim>();
      const member = new Recorder(
        async (source) => {
          const claim = await log.claim(source);
          claims.set(source.partition, claim);
          return claim.start.refoldFrom;
        },
        async (source, batch) => {
          const outputs = batch.records.map((record) => out(`${source.partition}:${text(record)}`));
          const position = batch.records.at(-1)!.offset + 1;
          await claims.get(source.partition)!.commit({ position, refoldFrom: position, outputs });
        },
      );
      await log.work(STAGE, ["in"], member);
      const sent = Array.from({ length: 100 }, (_, i) => toPartition(i % 4, `${i}`));
      for (let at = 0; at < sent.length; at += 10) await log.append(sent.slice(at, at + 10));
      const seen = (await readAll(log, "out", until, 100)).map(text);
      expect(seen.sort()).toEqual(sent.map(({ value, partition }) => `${partition}:${value}`).sort());
    });
  });
}

/** A member that writes down what it is given. */
class Recorder implements Worker {
  readonly held = new Set<number>();
  total = 0;
  end = 0;
  private readonly seen = new Map<number, LogRecord[]>();
  private readonly take: (source: Source, signal: AbortSignal) => Promise<number>;
  private readonly work: (source: Source, batch: Batch) => Promise<void>;

  constructor(
    take: (source: Source, signal: AbortSignal) => Promise<number> = async () => 0,
    work: (source: Source, batch: Batch) => Promise<void> = async () => {},
  ) {
    this.take = take;
    this.work = work;
  }

  async assigned(source: Source, signal: AbortSignal): Promise<number> {
    this.held.add(source.partition);
    return await this.take(source, signal);
  }

  async records(source: Source, batch: Batch): Promise<void> {
    await batch.heartbeat();
    await this.work(source, batch);
    const seen = this.seen.get(source.partition) ?? [];
    seen.push(...batch.records);
    this.seen.set(source.partition, seen);
    this.total += batch.records.length;
    this.end = Math.max(this.end, batch.end);
  }

  async revoked({ partition }: Source): Promise<void> {
    this.held.delete(partition);
  }

  of(partition: number): readonly LogRecord[] {
    return this.seen.get(partition) ?? [];
  }
}

function toPartition(partition: number, value: string, headers: Record<string, string> = {}): NewRecord {
  return { topic: "in", key: "k", value, headers, partition };
}

function out(value: string): NewRecord {
  return { topic: "out", key: "k", value };
}

export function text(record: { value: Uint8Array }): string {
  return Buffer.from(record.value).toString("utf8");
}

function isRising(numbers: readonly number[]): boolean {
  return numbers.every((n, i) => i === 0 || n > numbers[i - 1]!);
}

/** Every committed record of a topic, partition by partition, once there are at least `atLeast`. */
export async function readAll(
  log: Log,
  topic: string,
  until: (fact: () => boolean | Promise<boolean>) => Promise<void>,
  atLeast: number,
): Promise<LogRecord[]> {
  const seen: LogRecord[] = [];
  const extent = await log.extent(topic);
  const tail = await log.tail(
    extent.map(({ partition, from }) => ({ topic, partition, offset: from })),
    { records: async ({ records }) => void seen.push(...records) },
  );
  const complete = until(() => seen.length >= atLeast);
  await complete.finally(() => tail.close());
  return seen.sort((a, b) => a.partition - b.partition || a.offset - b.offset);
}

/** Records in a topic that was never written to with anything but plain appends and commits. */
async function count(log: Log, topic: string): Promise<number> {
  const extent = await log.extent(topic);
  if (extent.every(({ from, end }) => from === end)) return 0;
  // A log may count more offsets than records (markers of a commit): read to the end and count.
  let records = 0;
  const left = new Set(extent.filter(({ from, end }) => end > from).map(({ partition }) => partition));
  const tail = await log.tail(
    extent.map(({ partition, from }) => ({ topic, partition, offset: from })),
    {
      records: async ({ partition, records: some, end }) => {
        records += some.length;
        if (some.length > 0 && end > 0) left.delete(partition);
      },
    },
  );
  await waitFor(() => left.size === 0, COUNT_PATIENCE_MS).catch(() => {});
  await tail.close();
  return records;
}

/** Where nothing committed lies before a partition's end there is nothing to wait for. */
const COUNT_PATIENCE_MS = 1_000;

/** Waits for a fact, looking often. @throws Error when it does not come true in time */
export async function waitFor(fact: () => boolean | Promise<boolean>, patienceMs: number): Promise<void> {
  const startedMs = performance.now();
  while (!(await fact())) {
    if (performance.now() - startedMs > patienceMs) throw new Error(`not true after ${patienceMs} ms: ${fact}`);
    await new Promise((resolve) => setTimeout(resolve, 2));
  }
}
