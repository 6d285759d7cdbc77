import type { JoinDoubt, Journey, Leg } from "../journey/journey.ts";
import type { Pass } from "../pass/pass.ts";
import type { SiteCondition } from "../site/condition.ts";
import type { Warning } from "../warning/warning.ts";
import { DAY_LIMITS, type Day, type PassPoint, type WarningStory } from "./day.ts";
import { type DatedDoubt, JoinTally } from "./joins.ts";
import type { Narrow } from "./narrow.ts";
import { Stories } from "./stories.ts";

/** A point of the diagram, and the train that its corridor made of it. */
export interface TrainPoint extends PassPoint {
  journey: string | null;
  train: string | null;
}

/** What a corridor has to say of a day, in an order that follows from the corridor's own: plain data, see `DayAccount`. */
export interface CorridorPart {
  corridor: string;
  passes: number;
  flags: Record<string, number>;
  fromMs: number;
  toMs: number;
  joins: Day["joins"];
  doubts: DatedDoubt[];
  points: TrainPoint[];
  conditions: SiteCondition[];
  stories: WarningStory[];
  over: Day["overflow"];
}

/** The account of one corridor. Everything kept has a limit (DAY_LIMITS), so memory does not grow with the day. */
export class CorridorAccount {
  readonly #corridor: string;
  readonly #narrow: Narrow;
  readonly #stories = new Stories();
  readonly #joins = new JoinTally();
  readonly #points = new Map<string, TrainPoint>();
  readonly #conditions = new Map<string, SiteCondition>();
  readonly #flags: Record<string, number> = {};
  readonly #over = { passPoints: 0, conditions: 0 };
  #passes = 0;
  #fromMs = Number.POSITIVE_INFINITY;
  #toMs = Number.NEGATIVE_INFINITY;

  constructor(corridor: string, narrow: Narrow) {
    this.#corridor = corridor;
    this.#narrow = narrow;
  }

  /** A finished pass of a site that the corridor owns, once. */
  addPass(pass: Pass): void {
    this.#passes++;
    for (const flag of pass.flags) this.#flags[flag] = (this.#flags[flag] ?? 0) + 1;
    if (pass.begunMs < this.#fromMs) this.#fromMs = pass.begunMs;
    if (pass.endedMs > this.#toMs) this.#toMs = pass.endedMs;
    if (!this.#points.has(pass.id)) this.#point(pass, null, pass.train);
  }

  /** A pass placed in a journey. `isOwner`: the corridor owns its site, so the join is counted here. */
  addJoin(journey: Journey, leg: Leg, isOwner: boolean): void {
    if (isOwner) this.#joins.place(journey, leg);
    this.#point(leg.pass, journey.id, journey.train);
    this.#stories.follow(journey);
  }

  addDoubt(doubt: JoinDoubt): void {
    this.#joins.doubt(doubt);
  }

  addWarning(warning: Warning): void {
    this.#stories.add(warning);
  }

  addCondition(condition: SiteCondition): void {
    if (!this.#narrow.condition(condition)) return;
    if (this.#conditions.size < DAY_LIMITS.conditions || this.#conditions.has(condition.id)) this.#conditions.set(condition.id, condition);
    else this.#over.conditions++;
  }

  /** Warning ids so far. */
  get warnings(): number {
    return this.#stories.open;
  }

  close(): CorridorPart {
    const { joins, doubts, over } = this.#joins.close();
    return {
      corridor: this.#corridor,
      passes: this.#passes,
      flags: this.#flags,
      fromMs: this.#fromMs,
      toMs: this.#toMs,
      joins,
      doubts,
      points: [...this.#points.values()],
      conditions: [...this.#conditions.values()],
      stories: this.#stories.close(),
      over: { warnings: this.#stories.over, doubts: over, ...this.#over },
    };
  }

  #point(pass: Pass, journey: string | null, train: string | null): void {
    if (!this.#narrow.point(pass, train, journey)) return;
    if (this.#points.size >= DAY_LIMITS.passPoints && !this.#points.has(pass.id)) {
      // A pass comes by twice (finished, then placed); it is counted over the limit once.
      if (journey === null) this.#over.passPoints++;
      return;
    }
    const { id, site, endedMs: timeMs, direction } = pass;
    this.#points.set(pass.id, { pass: id, site, timeMs, direction, journey, train });
  }
}
