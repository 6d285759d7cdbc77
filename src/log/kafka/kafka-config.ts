import { readFileSync } from "node:fs";
import type { ConnectionOptions } from "node:tls";
import type { SASLOptions } from "kafkajs";
import * as z from "zod";
import { TOPICS, type TopicName } from "../topics.ts";
import { HEARTBEAT_MS, type KafkaSettings, SESSION_TIMEOUT_MS } from "./settings.ts";

const name = z
  .string()
  .regex(/^[A-Za-z0-9._-]{1,100}$/)
  .describe("Letters, digits, dot, underscore, hyphen.");
const reference = z
  .string()
  .regex(/^(env:[A-Za-z_][A-Za-z0-9_]*|file:.+)$/, "a reference: env:NAME or file:PATH")
  .describe("env:NAME or file:PATH; no secret stands in the configuration itself.");
const pem = z.string().min(1).describe("PEM file.");

const MOST_BROKERS = 100;
const MOST_PARTITIONS = 1_000;
const topicNames = TOPICS.map((topic) => topic.name) as [TopicName, ...TopicName[]];

/** `log.kafka` of the live configuration. */
export const kafkaConfig = z
  .strictObject({
    brokers: z
      .array(z.string().regex(/^[^\s/:]+:\d{1,5}$|^\[[0-9A-Fa-f:]+\]:\d{1,5}$/, "host:port"))
      .min(1)
      .max(MOST_BROKERS),
    application: name.default("bearing-rise").describe("First part of every group and transactional id."),
    topicPrefix: name.or(z.literal("")).default("").describe("Before every topic's name on the cluster."),
    tls: z
      .strictObject({
        ca: pem.optional().describe("PEM file of who signed the brokers' certificates; the system's when absent."),
        cert: pem.optional(),
        key: pem.optional(),
        serverName: z.string().min(1).max(255).optional().describe("Name in the brokers' certificates, where it is not the host's."),
      })
      .optional(),
    sasl: z
      .strictObject({
        mechanism: z.enum(["scram-sha-512", "scram-sha-256", "plain"]),
        username: z.string().min(1).max(255),
        password: reference,
      })
      .optional(),
    plainText: z.boolean().default(false).describe("Declares that a password over an unencrypted connection is meant."),
    sessionTimeoutSeconds: z
      .number()
      .gte((3 * HEARTBEAT_MS) / 1_000)
      .lte(300)
      .default(SESSION_TIMEOUT_MS / 1_000)
      .describe("A process silent for so long is taken for dead. Within group.min/max.session.timeout.ms of the brokers."),
    compression: z
      .enum(["zstd", "none"])
      .default("zstd")
      .describe("Of what is published. none: for readers that cannot unpack zstd, which Kafka has had since 2.1."),
    replicas: z.int().gte(1).lte(9).optional().describe("Of topics created here: 3, or as many as there are brokers."),
    partitions: z
      .partialRecord(z.enum(topicNames), z.int().gte(1).lte(MOST_PARTITIONS))
      .default({})
      .describe("Topic -> partitions when created here."),
  })
  .refine(({ sasl, tls, plainText }) => sasl === undefined || tls !== undefined || plainText, {
    message: "sasl without tls sends what logs us in over an open connection: add tls, or plainText: true if that is meant",
  });
export type KafkaConfig = z.infer<typeof kafkaConfig>;

/** The same with its files' paths, and those of its secrets, made absolute. */
export function kafkaPathsFrom(config: KafkaConfig, at: (path: string) => string): KafkaConfig {
  const { tls, sasl } = config;
  const maybe = (path: string | undefined) => (path === undefined ? undefined : at(path));
  const fileRef = (where: string) => (where.startsWith("file:") ? `file:${at(where.slice("file:".length))}` : where);
  return {
    ...config,
    tls: tls === undefined ? undefined : { ...tls, ca: maybe(tls.ca), cert: maybe(tls.cert), key: maybe(tls.key) },
    sasl: sasl === undefined ? undefined : { ...sasl, password: fileRef(sasl.password) },
  };
}

/**
 * Settings with the secrets read. `dataFolder` is where members leave their name.
 * @throws Error naming the reference that cannot be read, never what is in it
 */
export function kafkaSettings(config: KafkaConfig, dataFolder?: string): KafkaSettings {
  return {
    brokers: config.brokers,
    application: config.application,
    topicPrefix: config.topicPrefix,
    sessionTimeoutMs: Math.round(config.sessionTimeoutSeconds * 1_000),
    memberFolder: dataFolder,
    compression: config.compression,
    tls: config.tls === undefined ? undefined : tlsOptions(config.tls),
    sasl: config.sasl === undefined ? undefined : saslOptions(config.sasl),
  };
}

function tlsOptions({ ca, cert, key, serverName }: NonNullable<KafkaConfig["tls"]>): ConnectionOptions {
  return {
    ...(ca === undefined ? {} : { ca: fileText(ca) }),
    ...(cert === undefined ? {} : { cert: fileText(cert) }),
    ...(key === undefined ? {} : { key: fileText(key) }),
    ...(serverName === undefined ? {} : { servername: serverName }),
    rejectUnauthorized: true,
  };
}

function saslOptions({ mechanism, username, password }: NonNullable<KafkaConfig["sasl"]>): SASLOptions {
  const secret = secretOf(password);
  if (mechanism === "plain") return { mechanism, username, password: secret };
  return mechanism === "scram-sha-256" ? { mechanism, username, password: secret } : { mechanism, username, password: secret };
}

function secretOf(where: string): string {
  const [, kind, place] = /^(env|file):(.+)$/s.exec(where)!;
  const secret = kind === "env" ? process.env[place!] : fileText(place!).trimEnd();
  if (secret === undefined || secret === "") throw new Error(`log.kafka.sasl.password: ${where} is not set or empty`);
  return secret;
}

function fileText(path: string): string {
  try {
    return readFileSync(path, "utf8");
  } catch (error) {
    throw new Error(`log.kafka: ${path} cannot be read (${(error as NodeJS.ErrnoException).code ?? "unknown"})`);
  }
}
