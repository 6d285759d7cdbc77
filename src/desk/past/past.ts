import type { DeskAction } from "../../feed/record.ts";
import type { Railroad } from "../../line/railroad.ts";
import type { Log } from "../../log/log.ts";
import type { Stretch } from "../../replay/partition-reader.ts";
import type { RuleBook } from "../../warning/rule-book.ts";
import { type DeskRecord, deskRecordOf } from "../board/desk-record.ts";
import { DeskState } from "../board/desk-state.ts";
import { Refused } from "../refused.ts";
import { Turn } from "../turn.ts";
import { BEFORE_PASSES, PASSES, type Reach, type Wanted, wantedOf } from "./reach.ts";
import { firstOf, readStretches } from "./read-stretch.ts";

/** States kept for pages that look at the same time, each with a day of passes; folds asked for at once; time one may take. Assumptions. */
export const PAST_LIMITS = { states: 3, waiting: 8, foldMs: 100_000 } as const;

/** How long the beginning of the log is believed before it is asked for again: retention moves it. */
const FIRST_KNOWN_MS = 5 * 60_000;
/** Where recorded days are fed in, everything is read, and what lies so far before the time is left out. */
const PASSES_BACK_MS = 26 * 3_600_000;

/** Actions of one audit: about 30 MB of text. Assumption. */
export const MOST_ACTIONS = 100_000;
/** How far the clock of who acted may be ahead of the log's. */
const CLOCK_SLACK_MS = 3_600_000;

/** What the log no longer holds of what a page would show: a kind of record, and from when on it is there; null: not at all. */
export interface Lack {
  what: "passes" | "site-reports" | "consists" | "calibrations";
  fromMs: number | null;
}

/** Where the log begins, and whether it once held more. */
export interface Beginning {
  fromMs: number;
  isCut: boolean;
}

export interface PastState {
  state: DeskState;
  lacks: Lack[];
}

export interface PastParts {
  log: Log;
  railroad: Railroad;
  book: RuleBook;
  /** Times are when the log took a record; else what recorded days say themselves. */
  byArrival: boolean;
  limits?: { states: number; waiting: number; foldMs: number };
}

/** What the log holds of earlier times: states as they stood, folded from it anew, and what people did. */
export class Past {
  private readonly parts: PastParts;
  private readonly limits: { states: number; waiting: number; foldMs: number };
  private readonly states = new Map<number, Promise<PastState>>();
  private last: Promise<unknown> = Promise.resolve();
  private waiting = 0;
  private first: { found: Promise<Beginning | null>; askedAt: number } | null = null;
  private lastFound: Beginning | null = null;

  constructor(parts: PastParts) {
    this.parts = parts;
    this.limits = parts.limits ?? PAST_LIMITS;
  }

  /** Where the log begins: with its oldest pass, or without passes its oldest warning; null: it holds neither. */
  begins(): Promise<Beginning | null> {
    if (this.first === null) return this.askFirst();
    // Retention moves it slowly: what was known is good enough until it is asked anew.
    if (performance.now() - this.first.askedAt > FIRST_KNOWN_MS) void this.askFirst(this.first.found);
    return this.first.found;
  }

  /** Where the log begins as far as is known now, and asks for it where it is not: null says nothing. Waits for nobody. */
  begun(): Beginning | null {
    this.begins().catch(() => undefined);
    return this.lastFound;
  }

  private askFirst(known: Promise<Beginning | null> | null = null): Promise<Beginning | null> {
    const asked = this.findFirst();
    const first = { found: known ?? asked, askedAt: performance.now() };
    this.first = first;
    void asked.then(
      (one) => {
        first.found = asked;
        this.lastFound = one;
        // Nothing there yet: asked again the next time.
        if (one === null && this.first === first) this.first = null;
      },
      () => {
        if (known === null && this.first === first) this.first = null;
      },
    );
    return first.found;
  }

  /** @throws Refused when the log once held a time and does not any more */
  async checkHeld(timeMs: number): Promise<void> {
    const begins = await this.begins();
    if (begins === null || !begins.isCut || timeMs >= begins.fromMs) return;
    const [asked, first] = [new Date(timeMs).toISOString(), new Date(begins.fromMs).toISOString()];
    throw new Refused(
      404,
      "DESK-035 not-held",
      `The log holds nothing from ${asked} any more. It goes back to ${first}: choose a later time.`,
    );
  }

  /**
   * The state as it stood at a time: of all records that had come by then. One is folded at a time; the newest are kept.
   * @throws Refused when the log does not reach so far back, too many wait, or it takes too long
   */
  at(timeMs: number): Promise<PastState> {
    const known = this.states.get(timeMs);
    if (known !== undefined) {
      this.states.delete(timeMs);
      this.states.set(timeMs, known);
      return known;
    }
    if (this.waiting >= this.limits.waiting)
      throw new Refused(429, "DESK-033 busy", "Too many are looking back at once. Try again in a moment.");
    this.waiting++;
    const made = this.last.then(() => this.fold(timeMs)).finally(() => this.waiting--);
    this.last = made.catch(() => undefined);
    this.states.set(timeMs, made);
    made.catch(() => this.states.delete(timeMs));
    if (this.states.size > this.limits.states) this.states.delete(this.states.keys().next().value as number);
    return made;
  }

  /**
   * Actions of a window of the desk's own time, each partition's in the order in which the log took them, handed over one by
   * one. It begins where the log took what was done then: an action is in the log as it is done, at most `CLOCK_SLACK_MS`
   * before its own time. Answers true when there were more than `most`: the rest was left out.
   */
  async actions(
    fromMs: number,
    toMs: number,
    take: (found: { arrivedMs: number; action: DeskAction }) => void,
    most = MOST_ACTIONS,
  ): Promise<boolean> {
    const { log, byArrival } = this.parts;
    let left = most;
    let isCut = false;
    await readStretches(log, await this.actionStretches(fromMs), new Turn(), (raw) => {
      const record = deskRecordOf(raw, byArrival);
      if (record?.kind !== "action") return undefined;
      const timeMs = Date.parse(record.value.time);
      if (!(timeMs >= fromMs && timeMs <= toMs)) return undefined;
      if (left === 0) {
        isCut = true;
        return false;
      }
      left--;
      take({ arrivedMs: record.arrivedMs, action: record.value });
      return true;
    });
    return isCut;
  }

  /** Where the log's own times mean nothing, all that it holds. */
  private async actionStretches(fromMs: number): Promise<Stretch[]> {
    const { log, byArrival } = this.parts;
    const begins = byArrival ? await log.offsetsAt("desk-actions", Math.max(0, fromMs - CLOCK_SLACK_MS)) : [];
    return (await log.extent("desk-actions")).map(({ partition, from: first, end }) => {
      const from = Math.max(first, begins.find((one) => one.partition === partition)?.offset ?? first);
      return { topic: "desk-actions", partition, from, end, fromMs: Number.NEGATIVE_INFINITY, toMs: Number.POSITIVE_INFINITY };
    });
  }

  private async fold(timeMs: number): Promise<PastState> {
    const { log, railroad, book, byArrival } = this.parts;
    await this.checkHeld(timeMs);
    const state = new DeskState(railroad, book);
    const lacks: Lack[] = [];
    const turn = new Turn();
    const endsAt = performance.now() + this.limits.foldMs;
    for (const reaches of [BEFORE_PASSES, PASSES]) {
      const wanted = await wantedOf(log, reaches, byArrival ? timeMs : null);
      const firsts = new Map<string, number>();
      await this.read(wanted, turn, (record, topic) => {
        if (!firsts.has(topic)) firsts.set(topic, record.arrivedMs);
        if (performance.now() > endsAt) throw tooLong(this.limits.foldMs);
        if (record.arrivedMs > timeMs) return;
        if (record.kind === "pass" && record.arrivedMs < timeMs - PASSES_BACK_MS) return;
        try {
          state.fold(record);
        } catch {
          // As in the live state: another program may write these topics, and what cannot be folded stops nobody.
        }
      });
      lacks.push(...lacksOf(wanted, firsts, reaches));
    }
    state.turn(timeMs);
    return { state, lacks };
  }

  private async read(wanted: readonly Wanted[], turn: Turn, take: (record: DeskRecord, topic: string) => void): Promise<void> {
    const { log, byArrival } = this.parts;
    const stretches = wanted.map(({ stretch }) => stretch);
    await readStretches(log, stretches, turn, (raw) => {
      const record = deskRecordOf(raw, byArrival);
      if (record !== null) take(record, raw.topic);
      return undefined;
    });
  }

  private async findFirst(): Promise<Beginning | null> {
    const { log, byArrival } = this.parts;
    for (const topic of ["passes", "warnings"]) {
      const wanted = await wantedOf(log, [{ topic, hours: Number.POSITIVE_INFINITY, most: Number.POSITIVE_INFINITY }], null);
      const stretches = wanted.map(({ stretch }) => stretch);
      const times = await firstOf(log, stretches, new Turn(), (record) => deskRecordOf(record, byArrival)?.arrivedMs ?? null);
      if (times.length > 0) return { fromMs: Math.min(...times), isCut: stretches.some(({ from }) => from > 0) };
    }
    return null;
  }
}

/** A minute is nothing that a page shows. */
const LACKING_MS = 60_000;

function lacksOf(wanted: readonly Wanted[], firsts: ReadonlyMap<string, number>, reaches: readonly Reach[]): Lack[] {
  const lacks: Lack[] = [];
  for (const { topic } of reaches) {
    const cut = wanted.find((one) => one.stretch.topic === topic && one.isCut);
    if (cut === undefined) continue;
    const fromMs = firsts.get(topic) ?? null;
    if (fromMs === null || fromMs > cut.wantedFromMs + LACKING_MS) lacks.push({ what: topic as Lack["what"], fromMs });
  }
  return lacks;
}

function tooLong(foldMs: number): Refused {
  return new Refused(
    503,
    "DESK-034 too-long",
    `Folding that time took longer than ${foldMs / 1000} s and was given up. Try again when less is going on.`,
  );
}
