import { Delivery, type Shelf } from "./delivery.ts";
import type { Batch, LogRecord, Membership, Source, Worker } from "./log.ts";

/** What a log inside one process knows of a source: `<stage>/<topic>/<partition>`. */
export function sourceKey({ stage, topic, partition }: Source): string {
  return `${stage}/${topic}/${partition}`;
}

/** Why a signal aborts. Made once: an error made anew costs more than the rest of it. */
const TAKEN = new Error("the partition was taken away");

/** A source in a member's hands. */
interface Seat {
  source: Source;
  delivery: Delivery;
  taken: AbortController;
}

/**
 * The members of one stage inside one process, and who has which partition. Like a broker's group it makes no promise that
 * the member before has stopped: that is what the claim's fence is for.
 */
export class Group {
  readonly stage: string;
  readonly topics: readonly string[];
  private readonly shelf: Shelf;
  private readonly sources: readonly Source[];
  private readonly members: Member[] = [];

  constructor(stage: string, topics: readonly string[], partitions: (topic: string) => number, shelf: Shelf) {
    this.stage = stage;
    this.topics = topics;
    this.shelf = shelf;
    this.sources = topics.flatMap((topic) =>
      Array.from({ length: partitions(topic) }, (_, partition) => ({ stage, topic, partition }) satisfies Source),
    );
  }

  /** `passing`: awaited before a member is handed anything, where a test wants to come in between. */
  join(worker: Worker, passing: () => Promise<void> = async () => {}): Member {
    const member = new Member(this, worker, this.shelf, passing);
    this.add(member);
    return member;
  }

  add(member: Member): void {
    this.members.push(member);
    this.share();
  }

  /** The member gets nothing any more and what it had goes to the others. `tell`: whether the member hears of it. */
  remove(member: Member, tell = true): void {
    const at = this.members.indexOf(member);
    if (at >= 0) this.members.splice(at, 1);
    if (tell) for (const source of this.sources) member.take(source);
    this.share();
  }

  wake(topic: string, partition: number): void {
    for (const member of this.members) member.wake({ stage: this.stage, topic, partition });
  }

  private share(): void {
    if (this.members.length === 0) return;
    for (const [index, source] of this.sources.entries()) {
      const owner = this.members[index % this.members.length]!;
      for (const member of this.members) if (member !== owner) member.take(source);
      owner.give(source);
    }
  }
}

export class Member implements Membership {
  readonly broken: Promise<Error>;
  private readonly group: Group;
  private readonly worker: Worker;
  private readonly shelf: Shelf;
  private readonly passing: () => Promise<void>;
  private readonly seats = new Map<string, Seat>();
  private readonly leaving: Promise<void>[] = [];
  private break: (error: Error) => void = () => {};

  constructor(group: Group, worker: Worker, shelf: Shelf, passing: () => Promise<void>) {
    this.group = group;
    this.worker = worker;
    this.shelf = shelf;
    this.passing = passing;
    this.broken = new Promise((resolve) => {
      this.break = resolve;
    });
  }

  pause(source: Source): void {
    this.seats.get(sourceKey(source))?.delivery.pause();
  }

  resume(source: Source, from: number): void {
    this.seats.get(sourceKey(source))?.delivery.resume(from);
  }

  async leave(): Promise<void> {
    this.group.remove(this);
    await Promise.all(this.leaving);
  }

  give(source: Source): void {
    const key = sourceKey(source);
    if (this.seats.has(key)) return;
    const taken = new AbortController();
    const hand = async (records: readonly LogRecord[], end: number) => {
      await this.passing();
      if (taken.signal.aborted) return;
      const batch: Batch = {
        records,
        end,
        heartbeat: this.passing,
        get stale() {
          return taken.signal.aborted;
        },
      };
      await this.worker.records(source, batch);
    };
    const delivery = new Delivery(this.shelf, source.topic, source.partition, hand, (error) => this.break(error));
    this.seats.set(key, { source, delivery, taken });
    void this.begin(source, delivery, taken.signal);
  }

  take(source: Source): void {
    const key = sourceKey(source);
    const seat = this.seats.get(key);
    if (seat === undefined) return;
    this.seats.delete(key);
    seat.taken.abort(TAKEN);
    const stopped = seat.delivery.stop();
    const ended = this.worker.revoked(source).then(() => stopped);
    const kept = ended.catch((error: unknown) => this.break(error as Error));
    this.leaving.push(kept);
    void kept.then(() => this.leaving.splice(this.leaving.indexOf(kept), 1));
  }

  wake(source: Source): void {
    this.seats.get(sourceKey(source))?.delivery.wake();
  }

  private async begin(source: Source, delivery: Delivery, signal: AbortSignal): Promise<void> {
    try {
      await this.passing();
      if (signal.aborted) return;
      const from = await this.worker.assigned(source, signal);
      if (!signal.aborted) delivery.resume(from);
    } catch (error) {
      if (!signal.aborted) this.break(error as Error);
    }
  }
}
