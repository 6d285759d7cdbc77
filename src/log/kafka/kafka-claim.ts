import { setTimeout as sleep } from "node:timers/promises";
import { CompressionTypes, type Producer, type Transaction } from "kafkajs";
import { type Claim, type Commit, FencedError, type Position, type Source, TooLargeError, UnknownOutcomeError } from "../log.ts";
import { kafkaClient } from "./client.ts";
import type { Cluster } from "./cluster.ts";
import { commitFault, isOfType, wordsOf } from "./faults.ts";
import { committedPosition, metadataOf } from "./position.ts";
import { allTaken, asPlaced, type Placed, roundsOf, takenOnce, topicMessages } from "./rounds.ts";
import { CLAIM_RETRY, positionsGroup, TRANSACTION_TIMEOUT_MS } from "./settings.ts";
import { Sockets } from "./sockets.ts";
import { atMost, within } from "./within.ts";

/** After this the broker has ended the transaction by itself, so nothing can come of waiting longer. */
const COMMIT_WITHIN_MS = TRANSACTION_TIMEOUT_MS + 2_000;
const CLAIM_WITHIN_MS = 15_000;
const DISCONNECT_WITHIN_MS = 1_000;

/** One commit, at most; a task's own bounds are far lower. Held in memory until it is sent. */
export const COMMIT_BYTES = 16 * 1024 * 1024;

/** The markers of the transaction before are still being written: a few milliseconds. */
const MARKERS_PAUSE_MS = 5;
const MARKERS_TRIES = 200;

export function sourceName({ stage, topic, partition }: Source): string {
  return `${stage}/${topic}/${partition}`;
}

/**
 * The right to commit for a source: one transactional producer, whose id is the source's. The order matters:
 * fence (a new epoch of the producer id; whoever held it can commit no more, and its open transaction is aborted), then read
 * the position, which is stable from then on.
 */
export class KafkaClaim implements Claim {
  readonly source: Source;
  readonly start: Position;
  private readonly cluster: Cluster;
  private readonly producer: Producer;
  private readonly sockets: Sockets;
  private readonly fenced: (source: Source) => void;
  private position: number;
  private state: "held" | "committing" | "spent" = "held";

  private constructor(
    cluster: Cluster,
    source: Source,
    start: Position,
    producer: Producer,
    sockets: Sockets,
    fenced: (source: Source) => void,
  ) {
    this.cluster = cluster;
    this.source = source;
    this.start = start;
    this.position = start.position;
    this.producer = producer;
    this.sockets = sockets;
    this.fenced = fenced;
  }

  /** `fenced` hears of it when a commit finds out that another owner took over. */
  static async take(cluster: Cluster, source: Source, fenced: (source: Source) => void): Promise<KafkaClaim> {
    await cluster.check(source.topic, source.partition);
    const { settings, logger } = cluster;
    const { stage, topic, partition } = source;
    const sockets = new Sockets(settings.socketFactory);
    const producer = kafkaClient(settings, logger, sourceName(source), sockets).producer({
      transactionalId: `${settings.application}.${stage}.${topic}.${partition}`,
      transactionTimeout: TRANSACTION_TIMEOUT_MS,
      maxInFlightRequests: 1,
      allowAutoTopicCreation: false,
      createPartitioner: asPlaced,
      retry: CLAIM_RETRY,
    });
    try {
      return await within(CLAIM_WITHIN_MS, KafkaClaim.fence(cluster, source, producer, sockets, fenced), `claiming ${sourceName(source)}`);
    } catch (error) {
      void goneFrom(producer, sockets);
      throw new Error(`${sourceName(source)} could not be claimed: ${wordsOf(error)}`, { cause: error });
    }
  }

  private static async fence(cluster: Cluster, source: Source, producer: Producer, sockets: Sockets, fenced: (source: Source) => void) {
    await producer.connect();
    // InitProducerId goes out with the first transaction, and with nothing sent its abort costs no request.
    const transaction = await producer.transaction();
    await transaction.abort();
    return new KafkaClaim(cluster, source, await committedPosition(cluster, source), producer, sockets, fenced);
  }

  /**
   * #1275, #1355: after a commit that failed, kafkajs's transaction can stay in COMMITTING for ever. So a commit is never
   * tried again: the producer is thrown away with its claim, and where it stands is read anew by the next one.
   */
  async commit(commit: Commit): Promise<void> {
    const name = sourceName(this.source);
    if (this.state === "committing") throw new Error(`two commits at once for ${name}`);
    if (this.state === "spent") throw new UnknownOutcomeError(`the claim on ${name} is spent: take a new one`);
    if (commit.position < this.position) {
      throw new Error(`${name}: position ${commit.position} would fall behind ${this.position}`);
    }
    this.state = "committing";
    const outputs = await this.placed(commit);
    try {
      await within(COMMIT_WITHIN_MS, this.transact(roundsOf(outputs), commit), `the commit for ${name}`);
      this.position = commit.position;
      if (this.state === "committing") this.state = "held";
    } catch (error) {
      this.state = "spent";
      void goneFrom(this.producer, this.sockets);
      const fault = commitFault(error, name);
      if (fault instanceof FencedError) this.fenced(this.source);
      throw fault;
    }
  }

  async release(): Promise<void> {
    this.state = "spent";
    await goneFrom(this.producer, this.sockets);
  }

  /** Nothing has been sent when this throws: the claim is as good as before. */
  private async placed(commit: Commit): Promise<Placed[]> {
    try {
      const outputs = await this.cluster.place(commit.outputs);
      const bytes = outputs.reduce((sum, output) => sum + output.bytes, 0);
      if (bytes > COMMIT_BYTES) throw new TooLargeError(`a commit of ${bytes} bytes; the log takes ${COMMIT_BYTES}`);
      return outputs;
    } catch (error) {
      this.state = "held";
      throw error;
    }
  }

  /** Sends first and offsets last: adding partitions to a transaction is retried by kafkajs, adding offsets is not [source]. */
  private async transact(rounds: readonly Placed[][], commit: Commit): Promise<void> {
    const transaction = await this.producer.transaction();
    const compression = this.cluster.settings.compression === "none" ? CompressionTypes.None : CompressionTypes.ZSTD;
    for (const round of rounds) {
      const taken = await transaction.sendBatch({ topicMessages: topicMessages(round), acks: -1, compression });
      allTaken(round, taken);
      takenOnce(taken);
    }
    await this.sendPosition(transaction, commit, rounds.length === 0);
    await transaction.commit();
  }

  private async sendPosition(transaction: Transaction, commit: Commit, first: boolean): Promise<void> {
    const { stage, topic, partition } = this.source;
    const offsets = {
      consumerGroupId: positionsGroup(this.cluster.settings, stage),
      topics: [
        {
          topic: this.cluster.nameOf(topic),
          partitions: [{ partition, offset: String(commit.position), metadata: metadataOf(commit) }],
        },
      ],
    };
    for (let tried = 1; ; tried++) {
      try {
        await transaction.sendOffsets(offsets);
        return;
      } catch (error) {
        // As the first request of a transaction it can come too soon; it has changed nothing then.
        if (!first || tried === MARKERS_TRIES || !isOfType(error, "CONCURRENT_TRANSACTIONS")) throw error;
        await sleep(MARKERS_PAUSE_MS);
      }
    }
  }
}

/** Disconnects, well if it can be done soon, else anyhow. */
async function goneFrom(producer: Producer, sockets: Sockets): Promise<void> {
  await atMost(DISCONNECT_WITHIN_MS, producer.disconnect());
  sockets.hangUp();
}
