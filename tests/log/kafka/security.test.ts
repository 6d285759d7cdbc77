import { readFile } from "node:fs/promises";
import kafkajs, { type AclEntry, type Admin, Kafka, logLevel } from "kafkajs";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { kafkaConfig, kafkaSettings } from "../../../src/log/kafka/kafka-config.ts";
import { KafkaLog } from "../../../src/log/kafka/kafka-log.ts";
import type { KafkaSettings } from "../../../src/log/kafka/settings.ts";
import type { Log } from "../../../src/log/log.ts";
import { TOPICS } from "../../../src/log/topics.ts";
import { createLogger, silentLogger } from "../../../src/telemetry/logger.ts";
import { brokerKind } from "../../broker/broker.ts";
import { readAll, waitFor } from "../contract.ts";
import { PASSWORDS, type Secured, startSecured } from "./secured.ts";

const found = await brokerKind(true);
const until = (fact: () => boolean | Promise<boolean>) => waitFor(fact, 30_000);

interface Line {
  who: string;
  acls: AclEntry[];
  /** As it stands in the list. */
  words: string;
}

const RESOURCES: Record<string, number> = { topic: 2, group: 3, cluster: 4, "transactional-id": 5 };
const OPERATIONS: Record<string, number> = { Read: 3, Write: 4, Create: 5, DescribeConfigs: 10 };
const PATTERNS: Record<string, number> = { literal: 3, prefixed: 4 };
const ALLOW = 3;

/** The lines of deploy/kafka-acls.md: the list itself is what is tested. */
async function lines(application: string, prefix: string): Promise<Line[]> {
  const text = await readFile(new URL("../../../deploy/kafka-acls.md", import.meta.url), "utf8");
  return text.split("\n").flatMap((row) => {
    const [who, resource, pattern, name, operations] = row
      .split("|")
      .slice(1)
      .map((cell) => cell.trim());
    if (who === undefined || resource === undefined || RESOURCES[resource] === undefined) return [];
    const acls = operations!.split(", ").map((operation) => ({
      principal: `User:${who}`,
      host: "*",
      resourceType: RESOURCES[resource]!,
      resourceName: name!.replace("APP", application).replace("PREFIX", prefix),
      resourcePatternType: PATTERNS[pattern!]!,
      operation: OPERATIONS[operation]!,
      permissionType: ALLOW,
    }));
    return [{ who, acls, words: `${who}: ${operations} on ${resource} ${name}` }];
  });
}

describe.skipIf("reason" in found)("on a broker with TLS, SCRAM and ACLs", () => {
  let secured: Secured;
  let admin: Admin;
  let all: Line[];
  const settings = (over: Partial<KafkaSettings> = {}): KafkaSettings => ({
    brokers: secured.broker.brokers,
    application: "bearing-rise",
    topicPrefix: "rail.",
    sessionTimeoutMs: 6_000,
    tls: secured.tls,
    sasl: { mechanism: "scram-sha-512", username: "live", password: PASSWORDS.live },
    ...over,
  });

  beforeAll(async () => {
    secured = await startSecured();
    admin = new Kafka({ brokers: secured.broker.brokers, ssl: secured.tls, sasl: secured.admin, logLevel: logLevel.NOTHING }).admin();
    await admin.connect();
    await admin.createTopics({
      waitForLeaders: true,
      topics: [...TOPICS.map(({ name }) => ({ topic: `rail.${name}` })), { topic: "rail.other" }],
    });
    all = await lines("bearing-rise", "rail.");
    await admin.createAcls({ acl: all.flatMap(({ acls }) => acls) });
  });
  afterAll(async () => {
    await admin.disconnect();
    await secured.broker.stop();
  });

  /** Every call of the log, over every topic. */
  async function everything(log: Log): Promise<void> {
    for (const { name, flow } of TOPICS) if (flow === "in") await log.append([{ topic: name, key: "k", value: "in" }]);
    const held: string[] = [];
    const membership = await log.work(
      "assemble",
      TOPICS.filter(({ flow }) => flow === "in").map(({ name }) => name),
      {
        assigned: async (source) => {
          const claim = await log.claim(source);
          const outputs = TOPICS.filter(({ flow }) => flow !== "in").map(({ name }) => ({ topic: name, key: "k", value: source.topic }));
          await claim.commit({ position: claim.start.position, refoldFrom: 0, outputs });
          held.push(source.topic);
          return 0;
        },
        records: async () => {},
        revoked: async () => {},
      },
    );
    await until(() => held.length === 4);
    for (const { name } of TOPICS) await readAll(log, name, until, 1);
    await membership.leave();
  }

  it.each(["scram-sha-512", "scram-sha-256"] as const)(
    "the lines of the list are enough for every call of the log (%s)",
    async (mechanism) => {
      const log = new KafkaLog(settings({ sasl: { mechanism, username: "live", password: PASSWORDS.live } as never }), silentLogger());
      await everything(log);
      await log.close();
    },
  );

  it("each operation of each line for the live process is needed: without it something of the log is refused", async () => {
    for (const { acls, words } of all.filter(({ who }) => who === "live")) {
      for (const acl of acls) {
        await admin.deleteAcls({ filters: [acl] });
        const log = new KafkaLog(settings(), silentLogger());
        await expect(refused(log, acl), words).resolves.toMatch(/authoriz/i);
        await log.close();
        await admin.createAcls({ acl: [acl] });
      }
    }
  });

  /** What the log says where one operation on one resource is missing. */
  async function refused(log: Log, { resourceType, resourceName, operation }: AclEntry): Promise<string> {
    const topic = resourceType === RESOURCES["topic"] ? resourceName.replace("rail.", "") : "axle-readings";
    try {
      if (resourceType !== RESOURCES["topic"]) {
        const claim = await log.claim({ stage: "follow", topic, partition: 0 });
        await claim.commit({ position: 0, refoldFrom: 0, outputs: [] });
      } else if (operation === OPERATIONS["Write"]) {
        await log.append([{ topic, key: "k", value: "x" }]);
      } else {
        const tail = await log.tail([{ topic, partition: 0, offset: 0 }], { records: async () => {} });
        return (await tail.broken).message;
      }
    } catch (error) {
      return (error as Error).message;
    }
    return "nothing was refused";
  }

  it("what is not on the list is refused", async () => {
    const log = new KafkaLog(settings(), silentLogger());
    await expect(log.append([{ topic: "other", key: "k", value: "x" }])).rejects.toThrow(/authoriz/i);
    await log.close();
    const stranger = new KafkaLog(settings({ application: "another" }), silentLogger());
    await expect(stranger.claim({ stage: "assemble", topic: "axle-readings", partition: 0 })).rejects.toThrow(/authoriz/i);
    await stranger.close();
  });

  it("a sender may write what sites send, and nothing else", async () => {
    const log = new KafkaLog(
      settings({ sasl: { mechanism: "scram-sha-512", username: "sender", password: PASSWORDS.sender } }),
      silentLogger(),
    );
    await log.append([{ topic: "axle-readings", key: "alder-14/1", value: "x" }]);
    await expect(log.append([{ topic: "desk-actions", key: "k", value: "x" }])).rejects.toThrow(/authoriz/i);
    await expect(log.append([{ topic: "warnings", key: "k", value: "x" }])).rejects.toThrow(/authoriz/i);
    await log.close();
  });

  it("who has the wrong password, or does not know who signed the broker's certificate, is not let in; no password is in any line", async () => {
    const written: string[] = [];
    const logger = createLogger({ level: "debug", to: { write: (line) => void written.push(line) } });
    const wrong = new KafkaLog(settings({ sasl: { mechanism: "scram-sha-512", username: "live", password: "not-it-4-sure" } }), logger);
    await expect(wrong.append([{ topic: "axle-readings", key: "k", value: "x" }])).rejects.toThrow(/authentication/i);
    await wrong.close();
    const untrusting = new KafkaLog(settings({ tls: { servername: "localhost", rejectUnauthorized: true } }), logger);
    await expect(untrusting.append([{ topic: "axle-readings", key: "k", value: "x" }])).rejects.toThrow(/certificate/i);
    await untrusting.close();
    expect(written.length).toBeGreaterThan(0);
    for (const line of written) expect(line).not.toMatch(/only-4-test|not-it-4-sure/);
  });

  it("a configuration with references leads there, PLAIN over TLS too", async () => {
    process.env["TEST_KAFKA_PASSWORD"] = PASSWORDS.plain;
    const config = kafkaConfig.parse({
      brokers: secured.broker.brokers,
      topicPrefix: "rail.",
      tls: {},
      sasl: { mechanism: "plain", username: "plain", password: "env:TEST_KAFKA_PASSWORD" },
    });
    const acls = all.filter(({ who }) => who === "sender").flatMap((line) => line.acls.map((acl) => ({ ...acl, principal: "User:plain" })));
    await admin.createAcls({ acl: acls });
    const log = new KafkaLog({ ...kafkaSettings(config), tls: secured.tls }, silentLogger());
    await log.append([{ topic: "axle-readings", key: "k", value: "x" }]);
    await log.close();
    delete process.env["TEST_KAFKA_PASSWORD"];
    expect(() => kafkaSettings(config)).toThrow(/env:TEST_KAFKA_PASSWORD is not set/);
    expect(kafkajs.AclPermissionTypes["ALLOW"]).toBe(ALLOW);
  });
});
