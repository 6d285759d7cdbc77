import { readdirSync } from "node:fs";
import { mkdtemp, rm } from "node:fs/promises";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join } from "node:path";
import fc from "fast-check";
import { Kafka, logLevel } from "kafkajs";
import { afterAll, afterEach, beforeAll, describe, expect, it } from "vitest";
import { Cluster } from "../../../src/log/kafka/cluster.ts";
import { KafkaLog } from "../../../src/log/kafka/kafka-log.ts";
import { KafkaMember } from "../../../src/log/kafka/kafka-member.ts";
import { MemberName } from "../../../src/log/kafka/member-name.ts";
import { UNPACKERS } from "../../../src/log/kafka/packing.ts";
import { type KafkaSettings, membersGroup, positionsGroup, TRANSACTION_TIMEOUT_MS } from "../../../src/log/kafka/settings.ts";
import type { Batch, Claim, Log, LogRecord, Source, Worker } from "../../../src/log/log.ts";
import { FencedError } from "../../../src/log/log.ts";
import { silentLogger } from "../../../src/telemetry/logger.ts";
import { type Broker, brokerKind, startBroker } from "../../broker/broker.ts";
import { readAll, text, waitFor } from "../contract.ts";
import { createTopics, testSettings } from "./bed.ts";
import { CutSockets } from "./cut-sockets.ts";

const found = await brokerKind(true);
const until = (fact: () => boolean | Promise<boolean>) => waitFor(fact, 30_000);
/** Kafka's number for the configuration of a topic. */
const TOPIC_CONFIG = 2;
const STAGE = "fold";
const sourceOf = (partition: number): Source => ({ stage: STAGE, topic: "in", partition });

describe.skipIf("reason" in found)("on a real broker", () => {
  let broker: Broker;
  let settings: KafkaSettings;
  const opened: Log[] = [];

  beforeAll(async () => {
    broker = await startBroker({ own: true });
  });
  afterAll(() => broker.stop());
  afterEach(async () => {
    await Promise.all(opened.splice(0).map((log) => log.close()));
  });

  async function freshTopics(partitions = 4): Promise<void> {
    settings = { ...testSettings(broker.brokers), sessionTimeoutMs: 2_000 };
    const topics = new Map([
      ["in", partitions],
      ["out", 1],
    ]);
    await createTopics(settings, topics);
  }

  function open(over: Partial<KafkaSettings> = {}): KafkaLog {
    const log = new KafkaLog({ ...settings, ...over }, silentLogger());
    opened.push(log);
    return log;
  }

  const append = (log: Log, partition: number, ...values: string[]) =>
    log.append(values.map((value) => ({ topic: "in", key: "k", value, partition })));

  it("a commit of megabytes for one partition goes through, though a broker takes one megabyte at once", async () => {
    await freshTopics();
    const log = open();
    const claim = await log.claim(sourceOf(0));
    const outputs = Array.from({ length: 40 }, (_, n) => ({ topic: "out", key: "k", value: `${n}:`.padEnd(200_000, "x") }));
    await claim.commit({ position: 1, refoldFrom: 0, outputs });
    const read = await readAll(log, "out", until, 40);
    expect(read.map((record) => text(record).split(":")[0])).toEqual(outputs.map((_, n) => String(n)));
  });

  it("positions without outputs are committed right after one another, while the markers before are still being written", async () => {
    await freshTopics();
    const log = open();
    const claim = await log.claim(sourceOf(0));
    for (let position = 1; position <= 100; position++) await claim.commit({ position, refoldFrom: 0, outputs: [] });
    expect((await log.claim(sourceOf(0))).start.position).toBe(100);
  });

  it("what a dead process left open holds up no reader once its source is claimed again", async () => {
    await freshTopics();
    const cut = new CutSockets();
    const dying = open({ socketFactory: cut.factory });
    const claim = await dying.claim(sourceOf(0));
    cut.loseNextEnd("undone");
    await expect(claim.commit({ position: 1, refoldFrom: 0, outputs: [{ topic: "out", key: "k", value: "half" }] })).rejects.toThrow();
    const log = open();
    const startedMs = performance.now();
    const next = await log.claim(sourceOf(0));
    await next.commit({ position: 1, refoldFrom: 0, outputs: [{ topic: "out", key: "k", value: "whole" }] });
    expect((await readAll(log, "out", until, 1)).map(text)).toEqual(["whole"]);
    // Else it would have waited for the transaction's own time-out.
    expect(performance.now() - startedMs).toBeLessThan(TRANSACTION_TIMEOUT_MS);
  });

  it("a reader that has all that is committed is not behind, whatever an open transaction has written meanwhile", async () => {
    await freshTopics(1);
    const log = open();
    const claim = await log.claim({ stage: STAGE, topic: "out", partition: 0 });
    await claim.commit({ position: 0, refoldFrom: 0, outputs: [{ topic: "in", key: "k", value: "a" }] });
    const cut = new CutSockets();
    const other = await open({ socketFactory: cut.factory }).claim(sourceOf(0));
    cut.loseNextEnd("undone");
    const half = Array.from({ length: 5 }, () => ({ topic: "in", key: "k", value: "half" }));
    await expect(other.commit({ position: 1, refoldFrom: 0, outputs: half })).rejects.toThrow();
    const worker = new Notes();
    await log.work(STAGE, ["in"], worker);
    await until(() => worker.total === 1);
    expect([worker.end, worker.seen[0]!.offset]).toEqual([1, 0]);
    expect((await log.extent("in"))[0]!.end).toBe(2);
  });

  it("a position whose records retention took is read from the oldest there is, and the committed position is left alone", async () => {
    await freshTopics(1);
    const log = open();
    await append(log, 0, "a", "b", "c", "d");
    const claim = await log.claim(sourceOf(0));
    await claim.commit({ position: 1, refoldFrom: 0, outputs: [] });
    const admin = new Kafka({ brokers: broker.brokers, logLevel: logLevel.NOTHING }).admin();
    await admin.connect();
    await admin.fetchTopicOffsets(`${settings.topicPrefix}in`);
    await admin.deleteTopicRecords({ topic: `${settings.topicPrefix}in`, partitions: [{ partition: 0, offset: "2" }] });
    const worker = new Notes(async () => 0);
    await log.work(STAGE, ["in"], worker);
    await until(() => worker.values(0).length === 2);
    expect(worker.values(0)).toEqual(["c", "d"]);
    const [members] = await admin.fetchOffsets({ groupId: membersGroup(settings, STAGE), topics: [`${settings.topicPrefix}in`] });
    const [positions] = await admin.fetchOffsets({ groupId: positionsGroup(settings, STAGE), topics: [`${settings.topicPrefix}in`] });
    await admin.disconnect();
    expect(members?.partitions[0]?.offset).toBe("-1");
    expect(positions?.partitions[0]).toMatchObject({ offset: "1", metadata: "refold-from=0" });
  });

  it("a position beyond the end, as after a loss on the broker, is taken back to the end", async () => {
    await freshTopics(1);
    const log = open();
    await append(log, 0, "a");
    const worker = new Notes(async () => 1_000);
    await log.work(STAGE, ["in"], worker);
    await until(() => worker.assignments === 1);
    await until(async () => {
      await append(log, 0, "b");
      return worker.values(0).length > 0;
    });
    expect(worker.values(0)[0]).toBe("b");
  });

  it("members keep what they have when another comes, and what they keep goes on without a gap or a repeat", async () => {
    await freshTopics();
    const [a, b] = [open(), open()];
    const [first, second] = [new Notes(), new Notes()];
    await a.work(STAGE, ["in"], first);
    await until(() => first.held.size === 4);
    let n = 0;
    const feeding = setInterval(() => void append(a, n % 4, String(n++)), 5);
    await until(() => first.total > 20);
    await b.work(STAGE, ["in"], second);
    await until(() => second.held.size === 2);
    const upTo = n + 40;
    await until(() => n > upTo);
    clearInterval(feeding);
    expect(first.assignments).toBe(4);
    for (const partition of first.held) {
      const sent = Array.from({ length: n }, (_, i) => i)
        .filter((i) => i % 4 === partition)
        .map(String);
      await until(() => first.values(partition).length >= sent.length);
      expect(first.values(partition)).toEqual(sent);
    }
  });

  it("a member that was silent past its session is fenced by its successor, and is given its partitions anew", async () => {
    await freshTopics(1);
    const [a, b] = [open(), open()];
    const claims: { by: string; claim: Claim }[] = [];
    const keeper = (name: string, log: Log) =>
      new Notes(async (source) => {
        const claim = await log.claim(source);
        claims.push({ by: name, claim });
        return claim.start.position;
      });
    const [first, second] = [keeper("first", a), keeper("second", b)];
    let block = false;
    first.onRecords = async (_source, batch) => {
      if (!block) return;
      block = false;
      // Silent as a stopped process is: nothing of it runs, no heartbeat either.
      await new Promise((resolve) => setTimeout(resolve, 5_000));
      await batch.heartbeat();
      first.staleSeen = batch.stale;
    };
    await a.work(STAGE, ["in"], first);
    await until(() => first.held.size === 1);
    await b.work(STAGE, ["in"], second);
    block = true;
    await append(a, 0, "x");
    await until(() => claims.some(({ by }) => by === "second"));
    const old = claims.find(({ by }) => by === "first")!.claim;
    await expect(old.commit({ position: 1, refoldFrom: 0, outputs: [{ topic: "out", key: "k", value: "zombie" }] })).rejects.toThrow(
      FencedError,
    );
    await until(() => first.staleSeen);
    expect(second.values(0)).toEqual(["x"]);
  });

  it("a source fenced from outside while its member still holds it is begun anew", async () => {
    await freshTopics(1);
    const log = open();
    let claim: Claim | null = null;
    const worker = new Notes(async (source) => {
      claim = await log.claim(source);
      return claim.start.position;
    });
    await log.work(STAGE, ["in"], worker);
    await until(() => claim !== null);
    const ours: Claim = claim!;
    await open().claim(sourceOf(0));
    await expect(ours.commit({ position: 1, refoldFrom: 0, outputs: [] })).rejects.toThrow(FencedError);
    await until(() => worker.assignments === 2 && claim !== ours);
    await claim!.commit({ position: 1, refoldFrom: 0, outputs: [] });
  });

  it("a process killed and started again on its folder comes back at once as the member it was; elsewhere it waits for the session time-out", async () => {
    await freshTopics();
    const folder = await mkdtemp(join(tmpdir(), "member-"));
    const sessionTimeoutMs = 6_000;
    const comeBack = async (memberFolder: string | undefined) => {
      settings = {
        ...settings,
        application: `${settings.application}-${memberFolder === undefined ? "without" : "with"}`,
        sessionTimeoutMs,
      };
      const cut = new CutSockets();
      const dying = open({ memberFolder, socketFactory: cut.factory });
      const before = new Notes();
      await dying.work(STAGE, ["in"], before);
      await until(() => before.held.size === 4);
      // The name is written beside the work: who is killed before that has left none.
      if (memberFolder !== undefined) await until(() => readdirSync(memberFolder).some((file) => file.endsWith(".member.json")));
      cut.cutForGood();
      const startedMs = performance.now();
      const after = new Notes();
      await open({ memberFolder }).work(STAGE, ["in"], after);
      await until(() => after.held.size === 4);
      return performance.now() - startedMs;
    };
    const withName = await comeBack(folder);
    const without = await comeBack(undefined);
    expect(without).toBeGreaterThan(sessionTimeoutMs / 2);
    expect(withName).toBeLessThan(without);
    await rm(folder, { recursive: true });
  });

  it("a broker that is away for a while is waited for: what is appended meanwhile is in the log, and reading goes on", async () => {
    await freshTopics(1);
    const log = open();
    const worker = new Notes();
    const membership = await log.work(STAGE, ["in"], worker);
    await append(log, 0, "before");
    await until(() => worker.total === 1);
    await broker.kill!();
    const waiting = append(log, 0, "while it was away");
    await broker.start!();
    await waiting;
    await until(() => worker.total >= 2);
    // Sent again when the answer was lost with the broker: a repeat, which the folds know.
    expect([...new Set(worker.values(0))]).toEqual(["before", "while it was away"]);
    const broken = await Promise.race([membership.broken, Promise.resolve("no")]);
    expect(broken).toBe("no");
  });

  it.each(["gzip", "snappy", "lz4", "zstd"])(
    "records come back as they went in when the broker keeps them compressed with %s",
    async (compression) => {
      await freshTopics(1);
      const admin = new Kafka({ brokers: broker.brokers, logLevel: logLevel.NOTHING }).admin();
      await admin.connect();
      const name = `${settings.topicPrefix}in`;
      await admin.alterConfigs({
        validateOnly: false,
        resources: [{ type: TOPIC_CONFIG, name, configEntries: [{ name: "compression.type", value: compression }] }],
      });
      await admin.disconnect();
      const log = open();
      const type = ["none", "gzip", "snappy", "lz4", "zstd"].indexOf(compression);
      const unpack = UNPACKERS[type]!;
      let unpacked = 0;
      UNPACKERS[type] = (bytes) => {
        unpacked++;
        return unpack(bytes);
      };
      const random = fc.sample(fc.uint8Array({ minLength: 0, maxLength: 300_000 }), { numRuns: 20, seed: 7 });
      const axles = Array.from({ length: 200 }, (_, n) =>
        Buffer.from(JSON.stringify({ type: "axles", site: "alder-14", first: n, ms: [0, 85, 170 + n] })),
      );
      const sent = [...random, Buffer.alloc(700_000, "ab"), Buffer.alloc(0), ...axles];
      await log.append(sent.map((value) => ({ topic: "in", key: "k", value })));
      const read = await readAll(log, "in", until, sent.length);
      expect(read.every(({ value }, at) => Buffer.from(value).equals(sent[at]!))).toBe(true);
      expect(read).toHaveLength(sent.length);
      UNPACKERS[type] = unpack;
      expect(unpacked).toBeGreaterThan(0);
    },
  );

  describe("a member that holds a partition and reads nothing (#1456)", () => {
    const { prototype } = createRequire(import.meta.url)("kafkajs/src/consumer/consumerGroup") as {
      prototype: { groupId: string; fetch(node: number): Promise<unknown[]> };
    };
    const { fetch } = prototype;
    let stuck = "";
    beforeAll(() => {
      prototype.fetch = async function (this: { groupId: string }, node: number) {
        if (this.groupId !== stuck) return fetch.call(this as never, node);
        await new Promise((resolve) => setTimeout(resolve, 20));
        return [];
      };
    });
    afterAll(() => {
      prototype.fetch = fetch;
    });

    async function member(worker: Worker): Promise<KafkaMember> {
      await freshTopics(1);
      const cluster = new Cluster(settings, silentLogger());
      const group = membersGroup(settings, STAGE);
      stuck = group;
      const made = new KafkaMember(
        cluster,
        { group, stage: STAGE, topics: ["in"], name: new MemberName(undefined, group), lookEveryMs: 100 },
        worker,
      );
      await made.start();
      opened.push({ close: () => made.leave().then(() => cluster.close()) } as Log);
      return made;
    }

    it("begins anew", async () => {
      const worker = new Notes();
      const made = await member(worker);
      await append(open(), 0, "a");
      const before = prototype.fetch;
      const connects: number[] = [];
      await until(() => worker.assignments >= 1);
      // The second consumer of the group reads: what was stuck was the first.
      const timer = setInterval(() => {
        if (made.restartCount > 0) stuck = "";
        connects.push(made.restartCount);
      }, 10);
      await until(() => worker.total === 1);
      clearInterval(timer);
      expect(made.restartCount).toBe(1);
      expect(worker.values(0)).toEqual(["a"]);
      expect(prototype.fetch).toBe(before);
    });

    it("is given up the second time, so that a supervisor starts the process again", async () => {
      const made = await member(new Notes());
      await append(open(), 0, "a");
      expect((await made.broken).message).toMatch(/held and has more records, and none is read, a second time/);
    });
  });
});

/** A worker that writes down what it is given. */
class Notes implements Worker {
  readonly held = new Set<number>();
  readonly seen: LogRecord[] = [];
  assignments = 0;
  staleSeen = false;
  end = 0;
  onRecords: (source: Source, batch: Batch) => Promise<void> = async () => {};
  private readonly from: (source: Source) => Promise<number>;

  constructor(from: (source: Source) => Promise<number> = async () => 0) {
    this.from = from;
  }

  async assigned(source: Source): Promise<number> {
    this.assignments++;
    this.held.add(source.partition);
    return this.from(source);
  }

  async records(source: Source, batch: Batch): Promise<void> {
    await this.onRecords(source, batch);
    this.seen.push(...batch.records);
    this.end = batch.end;
  }

  async revoked({ partition }: Source): Promise<void> {
    this.held.delete(partition);
  }

  get total(): number {
    return this.seen.length;
  }

  values(partition: number): string[] {
    return this.seen.filter((record) => record.partition === partition).map(text);
  }
}
