import type { DeskAction } from "../feed/record.ts";
import { type Claim, FencedError, UnknownOutcomeError } from "../log/log.ts";
import { partitionOf } from "../log/partition-of.ts";
import type { Desk } from "./desk.ts";
import { Refused } from "./refused.ts";

const TOPIC = "desk-actions";
/** How long an answer waits for its own action to come from the log. */
const ECHO_MS = 5_000;
/** What does not come for so long is no record: a cluster counts its own marks, also of what was never committed. */
const MARKS_MS = 2_000;
/** Times that an action is judged anew because another desk was faster; before each a pause, so that two do not hinder each other for ever. */
const MOST_TRIES = 6;
const PAUSE_MS = 50;
/** A position that stands still would keep the log from letting go of what is old. */
const KEEP_UP_MS = 6 * 3_600_000;

/** What a judge says: the action to take down, or null where the log has it already. @throws Refused */
export type Judge = () => DeskAction | null;

/**
 * Writes actions into the log, each judged against all that the log held before it, whichever desk took it: this one holds
 * the right to write (`Claim`) of its partition, and takes it once it has read everything up to there. Another desk that
 * takes the right fences this one, which then reads what came, judges again and takes it back. So an action is judged once,
 * in the order of the log.
 */
export class ActionLog {
  private readonly desk: Desk;
  private readonly claims = new Map<number, Claim>();
  private readonly lines = new Map<number, Promise<unknown>>();
  private readonly timer: NodeJS.Timeout;

  constructor(desk: Desk) {
    this.desk = desk;
    this.timer = setInterval(() => void this.keepUp(), KEEP_UP_MS);
    this.timer.unref();
  }

  /** Whether the action was taken down now; false where it was there already. @throws Refused */
  async write(subject: string, judge: Judge): Promise<boolean> {
    const partition = partitionOf(subject, await this.desk.log.partitions(TOPIC));
    return this.inLine(partition, () => this.judged(partition, subject, judge));
  }

  async close(): Promise<void> {
    clearInterval(this.timer);
    await Promise.all([...this.lines.values()].map((line) => line.catch(() => undefined)));
    await Promise.all([...this.claims.values()].map((claim) => claim.release().catch(() => undefined)));
  }

  /** One at a time a partition: what the second sees is what the first left. */
  private async inLine<T>(partition: number, work: () => Promise<T>): Promise<T> {
    const before = this.lines.get(partition) ?? Promise.resolve();
    const turn = before.catch(() => undefined).then(work);
    this.lines.set(partition, turn);
    try {
      return await turn;
    } finally {
      if (this.lines.get(partition) === turn) this.lines.delete(partition);
    }
  }

  private async judged(partition: number, subject: string, judge: Judge): Promise<boolean> {
    for (let tries = 0, wasSent = false; tries < MOST_TRIES; tries++) {
      const claim = await this.claim(partition);
      const action = judge();
      if (action === null) return wasSent;
      try {
        const echo = this.desk.awaitAction(action.id, ECHO_MS);
        await this.commit(claim, partition, [{ topic: TOPIC, key: subject, value: JSON.stringify(action), partition }]);
        // What did not come back in time is not known here: the next one reads up to the end first.
        if (!(await echo)) this.claims.delete(partition);
        return true;
      } catch (error) {
        this.claims.delete(partition);
        if (!(error instanceof FencedError || error instanceof UnknownOutcomeError)) throw error;
        wasSent ||= error instanceof UnknownOutcomeError;
        await new Promise((resolve) => setTimeout(resolve, Math.random() * PAUSE_MS * 2 ** tries));
      }
    }
    throw new Refused(503, "DESK-036 contended", "Another desk was faster each time. Nothing was taken down; try again.");
  }

  /** The right to write to a partition, with everything folded that stands before it. */
  private async claim(partition: number): Promise<Claim> {
    const held = this.claims.get(partition);
    if (held !== undefined) return held;
    const { log } = this.desk;
    const claim = await log.claim({ stage: "desk", topic: TOPIC, partition });
    const end = (await log.extent(TOPIC)).find((one) => one.partition === partition)?.end ?? 0;
    await this.desk.caughtUp(`${TOPIC}/${partition}`, end, MARKS_MS);
    this.claims.set(partition, claim);
    return claim;
  }

  private async commit(claim: Claim, partition: number, outputs: Parameters<Claim["commit"]>[0]["outputs"]): Promise<void> {
    const position = Math.max(claim.start.position, this.desk.reachedOf(`${TOPIC}/${partition}`));
    await claim.commit({ position, refoldFrom: position, outputs });
  }

  /** Commits how far this desk has read, so that the log may let go of what is older. */
  async keepUp(): Promise<void> {
    for (let partition = 0, count = await this.desk.log.partitions(TOPIC); partition < count; partition++) {
      await this.inLine(partition, async () => this.commit(await this.claim(partition), partition, [])).catch(() =>
        this.claims.delete(partition),
      );
    }
  }
}
