import { randomUUID } from "node:crypto";
import type { Logger } from "../../telemetry/logger.ts";
import {
  type Claim,
  ClosedError,
  type Log,
  type Membership,
  type NewRecord,
  type Source,
  type Tail,
  type TailHandler,
  type Worker,
} from "../log.ts";
import { Appender } from "./appender.ts";
import { Cluster } from "./cluster.ts";
import { KafkaClaim } from "./kafka-claim.ts";
import { KafkaMember } from "./kafka-member.ts";
import { MemberName } from "./member-name.ts";
import { seatKey } from "./seat.ts";
import { type KafkaSettings, membersGroup } from "./settings.ts";

/**
 * The log on Kafka, through kafkajs. A claim is a transactional producer (`kafka-claim.ts`), a membership a member of a
 * consumer group (`kafka-member.ts`), a tail a member of a group of its own that is thrown away.
 */
export class KafkaLog implements Log {
  private readonly cluster: Cluster;
  private readonly appender: Appender;
  private readonly members = new Set<KafkaMember>();
  private readonly claims = new Set<KafkaClaim>();
  private closed = false;

  constructor(settings: KafkaSettings, logger: Logger, waitingBytes?: number) {
    this.cluster = new Cluster(settings, logger);
    this.appender = new Appender(this.cluster, waitingBytes);
  }

  async partitions(topic: string): Promise<number> {
    this.checkOpen();
    return this.cluster.partitions(topic);
  }

  async extent(topic: string): Promise<{ partition: number; from: number; end: number }[]> {
    this.checkOpen();
    return this.cluster.extent(topic);
  }

  async offsetsAt(topic: string, timeMs: number): Promise<{ partition: number; offset: number }[]> {
    this.checkOpen();
    return this.cluster.offsetsAt(topic, timeMs);
  }

  append(records: readonly NewRecord[]): Promise<void> {
    return this.appender.append(records);
  }

  async claim(source: Source): Promise<Claim> {
    this.checkOpen();
    const claim = await KafkaClaim.take(this.cluster, source, (fenced) => {
      this.claims.delete(claim);
      for (const member of this.members) member.fenced(fenced);
    });
    this.claims.add(claim);
    return claim;
  }

  async work(stage: string, topics: readonly string[], worker: Worker): Promise<Membership> {
    this.checkOpen();
    const { settings } = this.cluster;
    const group = membersGroup(settings, stage);
    return this.join(new KafkaMember(this.cluster, { group, stage, topics, name: new MemberName(settings.memberFolder, group) }, worker));
  }

  async tail(from: readonly { topic: string; partition: number; offset: number }[], handler: TailHandler): Promise<Tail> {
    this.checkOpen();
    const offsets = new Map(from.map(({ topic, partition, offset }) => [seatKey(topic, partition), offset]));
    const worker: Worker = {
      assigned: ({ topic, partition }, signal) => {
        const offset = offsets.get(seatKey(topic, partition));
        return offset === undefined ? never(signal) : Promise.resolve(offset);
      },
      records: ({ topic, partition }, { records, end, through }) => {
        offsets.set(seatKey(topic, partition), records.at(-1)!.offset + 1);
        return handler.records({ topic, partition, records, end, through });
      },
      revoked: async () => {},
    };
    const group = `${this.cluster.settings.application}.tail.${randomUUID()}`;
    const topics = [...new Set(from.map(({ topic }) => topic))];
    const member = await this.join(
      new KafkaMember(this.cluster, { group, stage: "tail", topics, name: new MemberName(undefined, group) }, worker),
    );
    return { broken: member.broken, close: () => this.part(member) };
  }

  async close(): Promise<void> {
    if (this.closed) return;
    this.closed = true;
    await Promise.all([...this.members].map((member) => this.part(member)));
    await Promise.all([...[...this.claims].map((claim) => claim.release()), this.appender.close()]);
    await this.cluster.close();
  }

  private async join(member: KafkaMember): Promise<KafkaMember> {
    this.members.add(member);
    try {
      await member.start();
    } catch (error) {
      await this.part(member);
      throw error;
    }
    return member;
  }

  private async part(member: KafkaMember): Promise<void> {
    await member.leave();
    this.members.delete(member);
  }

  private checkOpen(): void {
    if (this.closed) throw new ClosedError("the log was closed");
  }
}

/** A partition of a topic that a tail does not read stays paused. */
function never(signal: AbortSignal): Promise<number> {
  return new Promise((_, reject) => signal.addEventListener("abort", () => reject(new Error("closed")), { once: true }));
}
