import { Kafka, logLevel } from "kafkajs";
import { waitFor } from "../log/contract.ts";

/** Kafka's own topic of committed offsets: every commit that went through, in order. */
const OFFSETS = "__consumer_offsets";
const PATIENCE_MS = 60_000;

export interface Committed {
  /** `<group>/<topic>/<partition>`. */
  source: string;
  position: number;
}

/**
 * Every position that was ever committed under groups whose name begins so, in the order of the commits of each source. Read
 * off the broker's own log; not through kafkajs's view of it.
 */
export async function committedPositions(brokers: readonly string[], application: string): Promise<Committed[]> {
  const kafka = new Kafka({ brokers: [...brokers], logLevel: logLevel.NOTHING });
  const admin = kafka.admin();
  await admin.connect();
  const ends = new Map((await admin.fetchTopicOffsets(OFFSETS)).map(({ partition, high }) => [partition, Number(high)]));
  await admin.disconnect();
  const found: Committed[] = [];
  const left = new Set([...ends].filter(([, end]) => end > 0).map(([partition]) => partition));
  const consumer = kafka.consumer({ groupId: `checker-${Date.now()}`, maxWaitTimeInMs: 100 });
  await consumer.connect();
  await consumer.subscribe({ topic: OFFSETS, fromBeginning: true });
  const { END_BATCH_PROCESS } = consumer.events;
  // Control records at the end are in no message.
  consumer.on(END_BATCH_PROCESS, ({ payload }) => {
    if (Number(payload.lastOffset) + 1 >= ends.get(payload.partition)!) left.delete(payload.partition);
  });
  await consumer.run({
    autoCommit: false,
    eachBatch: async ({ batch }) => {
      for (const { key, value } of batch.messages) {
        const commit = key !== null && value !== null ? commitOf(key, value) : null;
        if (commit?.source.startsWith(`${application}.`)) found.push(commit);
      }
    },
  });
  await waitFor(() => left.size === 0, PATIENCE_MS);
  await consumer.disconnect();
  return found;
}

/** Versions 0 and 1 of the key are commits, 2 is about groups. Of the value only what stands first is read: version, offset. */
function commitOf(key: Buffer, value: Buffer): Committed | null {
  if (key.readInt16BE(0) > 1) return null;
  const groupEnd = 4 + key.readInt16BE(2);
  const topicAt = groupEnd + 2;
  const topicEnd = topicAt + key.readInt16BE(groupEnd);
  const source = `${key.toString("utf8", 4, groupEnd)}/${key.toString("utf8", topicAt, topicEnd)}/${key.readInt32BE(topicEnd)}`;
  return { source, position: Number(value.readBigInt64BE(2)) };
}

/** The first source whose position did not rise from one commit to the next; null when all rose. */
export function notRising(commits: readonly Committed[]): string | null {
  const last = new Map<string, number>();
  for (const { source, position } of commits) {
    const before = last.get(source);
    if (before !== undefined && position <= before) return `${source} was committed at ${position} after ${before}`;
    last.set(source, position);
  }
  return null;
}
