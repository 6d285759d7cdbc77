import type { DeskAction } from "../feed/record.ts";
import { type Claim, FencedError, UnknownOutcomeError } from "../log/log.ts";
import { partitionOf } from "../log/partition-of.ts";
import type { Desk } from "./desk.ts";
import { Refused } from "./refused.ts";

const TOPIC = "desk-actions";
/** How long an answer waits for its own action to come from the log. */
const ECHO_MS = 5_000;
/** What does not come for so long a second reader looks for: a cluster counts its own marks, also of what was never committed. */
const MARKS_MS = 2_000;
/** How long an action waits for this desk to have read all that stands before it. */
const BEHIND_MS = 10_000;
/** Actions that may wait for one partition: a person waits for an answer, a program may send on and on. */
const MOST_WAITING = 50;
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
  private readonly waiting = new Map<number, number>();
  private readonly timer: NodeJS.Timeout;

  constructor(desk: Desk) {
    this.desk = desk;
    this.timer = setInterval(() => void this.keepUp().catch(() => undefined), KEEP_UP_MS);
    this.timer.unref();
  }

  /** Whether the action was taken down now; false where it was there already. @throws Refused */
  async write(subject: string, judge: Judge): Promise<boolean> {
    const partition = partitionOf(subject, await answered(this.desk.log.partitions(TOPIC), false));
    return this.inLine(partition, () => this.judged(partition, subject, judge));
  }

  async close(): Promise<void> {
    clearInterval(this.timer);
    await Promise.all([...this.lines.values()].map((line) => line.catch(() => undefined)));
    await Promise.all([...this.claims.values()].map((claim) => claim.release().catch(() => undefined)));
  }

  /** One at a time a partition: what the second sees is what the first left. @throws Refused when too many wait */
  private async inLine<T>(partition: number, work: () => Promise<T>): Promise<T> {
    const ahead = this.waiting.get(partition) ?? 0;
    if (ahead >= MOST_WAITING) throw new Refused(429, "DESK-033 busy", "Too many actions are waiting. Nothing was taken down; try again.");
    this.waiting.set(partition, ahead + 1);
    const before = this.lines.get(partition) ?? Promise.resolve();
    const turn = before.catch(() => undefined).then(work);
    this.lines.set(partition, turn);
    try {
      return await turn;
    } finally {
      this.waiting.set(partition, this.waiting.get(partition)! - 1);
      if (this.lines.get(partition) === turn) this.lines.delete(partition);
    }
  }

  private async judged(partition: number, subject: string, judge: Judge): Promise<boolean> {
    let wasSent = false;
    for (let tries = 0; tries < MOST_TRIES; tries++) {
      const claim = await this.claim(partition, wasSent);
      const action = judge();
      if (action === null) return wasSent;
      try {
        const echo = this.desk.awaitAction(action.id, ECHO_MS);
        await this.commit(claim, partition, [{ topic: TOPIC, key: subject, value: JSON.stringify(action), partition }]);
        // What did not come back in time is not known here: the next one reads up to the end first.
        if (!(await echo)) await this.drop(partition);
        return true;
      } catch (error) {
        await this.drop(partition);
        if (!(error instanceof FencedError || error instanceof UnknownOutcomeError)) throw error;
        wasSent ||= error instanceof UnknownOutcomeError;
        await new Promise((resolve) => setTimeout(resolve, Math.random() * PAUSE_MS * 2 ** tries));
      }
    }
    throw new Refused(503, "DESK-036 contended", `Another desk was faster each time. ${fateWords(wasSent)}`);
  }

  /** The right to write to a partition, with everything folded that stands before it. @throws Refused */
  private async claim(partition: number, wasSent: boolean): Promise<Claim> {
    const held = this.claims.get(partition);
    if (held !== undefined) return held;
    const { log } = this.desk;
    const claim = await answered(log.claim({ stage: "desk", topic: TOPIC, partition }), wasSent);
    this.claims.set(partition, claim);
    let isReady = false;
    try {
      const end = (await answered(log.extent(TOPIC), wasSent)).find((one) => one.partition === partition)?.end ?? 0;
      isReady = await this.desk.caughtUp(`${TOPIC}/${partition}`, end, MARKS_MS, BEHIND_MS);
    } finally {
      if (!isReady) await this.drop(partition);
    }
    if (isReady) return claim;
    const words = "This desk has not read yet what was done before, so it cannot judge.";
    throw new Refused(503, "DESK-038 behind", `${words} ${fateWords(wasSent)}`);
  }

  /** Lets the right go: it is taken anew, with everything read, for the next action. */
  private async drop(partition: number): Promise<void> {
    const claim = this.claims.get(partition);
    this.claims.delete(partition);
    await claim?.release().catch(() => undefined);
  }

  private async commit(claim: Claim, partition: number, outputs: Parameters<Claim["commit"]>[0]["outputs"]): Promise<void> {
    const position = Math.max(claim.start.position, this.desk.reachedOf(`${TOPIC}/${partition}`));
    await claim.commit({ position, refoldFrom: position, outputs });
  }

  /** Commits how far this desk has read, so that the log may let go of what is older. */
  async keepUp(): Promise<void> {
    for (let partition = 0, count = await this.desk.log.partitions(TOPIC); partition < count; partition++) {
      const kept = this.inLine(partition, async () => {
        try {
          await this.commit(await this.claim(partition, false), partition, []);
        } catch {
          await this.drop(partition);
        }
      });
      // Where too many are waiting, theirs commit it.
      await kept.catch(() => undefined);
    }
  }
}

/** What the log answers. @throws Refused when it does not, so that whoever acted knows what became of it */
async function answered<T>(asked: Promise<T>, wasSent: boolean): Promise<T> {
  try {
    return await asked;
  } catch (error) {
    throw new Refused(503, "DESK-037 log-away", `The log does not answer. ${fateWords(wasSent)}`, {}, error);
  }
}

function fateWords(wasSent: boolean): string {
  return wasSent
    ? "Whether it was taken down nobody can tell yet; look again in a moment. Sending it again does not act twice."
    : "Nothing was taken down; try again.";
}
