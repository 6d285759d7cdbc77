import { createRequire } from "node:module";

/** What is asked: the committed offsets of a group. */
export interface OffsetsAsked {
  groupId: string;
  topics: { topic: string; partitions: { partition: number }[] }[];
}

export interface OffsetsAnswer {
  throttleTime: number;
  clientSideThrottleTime: number;
  responses: {
    topic: string;
    partitions: { partition: number; offset: string; metadata: string | null; errorCode: number }[];
  }[];
  errorCode: number;
}

/** kafkajs's own writer and reader of the protocol's types, as far as they are needed. */
interface Encoder {
  writeBoolean(value: boolean): Encoder;
  writeInt32(value: number): Encoder;
  writeUVarIntArray(parts: Encoder[] | null): Encoder;
  /** Without bytes: no tagged fields follow. */
  writeUVarIntBytes(): Encoder;
  writeUVarIntString(text: string): Encoder;
}

interface Decoder {
  readInt16(): number;
  readInt32(): number;
  readInt64(): { toString(): string };
  readTaggedFields(): unknown;
  readUVarIntArray<T>(read: (decoder: Decoder) => T): T[] | null;
  readUVarIntString(): string | null;
}

const inside = createRequire(import.meta.url);
const KafkaEncoder = inside("kafkajs/src/protocol/encoder") as new () => Encoder;
const KafkaDecoder = inside("kafkajs/src/protocol/decoder") as new (raw: Buffer) => Decoder;

/** Kafka's number of the request. */
const OFFSET_FETCH = 9;

/** The first version that can ask for stable offsets; brokers have it since 2.5 (KIP-447). */
export const STABLE_VERSION = 7;

/** Kafka's number of UNSTABLE_OFFSET_COMMIT. */
const UNSTABLE = 88;

/** In place of the offset of a partition for which a commit is under way. */
export const UNDER_WAY = "under-way";

/**
 * A request for committed offsets, version 7 (kafka.apache.org/protocol): where a commit is under way inside a transaction,
 * the broker answers UNSTABLE_OFFSET_COMMIT and not what was committed before it.
 */
export function stableOffsetsRequest({ groupId, topics }: OffsetsAsked) {
  return {
    apiKey: OFFSET_FETCH,
    apiVersion: STABLE_VERSION,
    apiName: "OffsetFetch",
    encode: async () =>
      new KafkaEncoder()
        // The end of the request's head.
        .writeUVarIntBytes()
        .writeUVarIntString(groupId)
        // No topics at all is all there are, as in kafkajs's own request; an empty list would be about none.
        .writeUVarIntArray(topics.length === 0 ? null : topics.map(topicAsked))
        .writeBoolean(true)
        .writeUVarIntBytes(),
  };
}

function topicAsked({ topic, partitions }: OffsetsAsked["topics"][number]): Encoder {
  return new KafkaEncoder()
    .writeUVarIntString(topic)
    .writeUVarIntArray(partitions.map(({ partition }) => new KafkaEncoder().writeInt32(partition)))
    .writeUVarIntBytes();
}

/** The answer in the form in which kafkajs wants it. */
export function stableOffsetsOf(raw: Buffer): OffsetsAnswer {
  const decoder = new KafkaDecoder(raw);
  decoder.readTaggedFields();
  const clientSideThrottleTime = decoder.readInt32();
  const responses = decoder.readUVarIntArray(topicOf) ?? [];
  return { throttleTime: 0, clientSideThrottleTime, responses, errorCode: decoder.readInt16() };
}

function topicOf(decoder: Decoder): OffsetsAnswer["responses"][number] {
  const topic = decoder.readUVarIntString() ?? "";
  const partitions = decoder.readUVarIntArray(partitionOf) ?? [];
  decoder.readTaggedFields();
  return { topic, partitions };
}

function partitionOf(decoder: Decoder): OffsetsAnswer["responses"][number]["partitions"][number] {
  const partition = decoder.readInt32();
  const offset = decoder.readInt64().toString();
  // The leader's epoch at the commit; nobody asks.
  decoder.readInt32();
  const metadata = decoder.readUVarIntString();
  const errorCode = decoder.readInt16();
  decoder.readTaggedFields();
  // Of one partition only: kafkajs would take it for an error of all, and among busy ones some commit is nearly always under way.
  if (errorCode === UNSTABLE) return { partition, offset: UNDER_WAY, metadata, errorCode: 0 };
  return { partition, offset, metadata, errorCode };
}
