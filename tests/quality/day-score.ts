import type { Railroad } from "../../src/line/railroad.ts";
import type { BearingTruth } from "../../src/simulate/truth.ts";
import type { RuleBook } from "../../src/warning/rule-book.ts";
import { limitsOf } from "../../src/warning/rule-set.ts";
import { biasErrors } from "./bias-errors.ts";
import { ChanceAccount, CrossingAccount } from "./chance-account.ts";
import type { DayWatch } from "./day-watch.ts";
import { JoinAccount } from "./join-account.ts";
import type { DevelopingCase, Nuisance, RunOutcome } from "./outcome.ts";
import type { Run } from "./plan.ts";
import { RULES, TrainScores } from "./score-train.ts";
import { bearingKey, type TrainCase, trueSide } from "./train-case.ts";
import { countTrips } from "./trips.ts";
import { VehicleAccount } from "./vehicle-account.ts";

/** The usual limit, also the simulator's: what a first reading at or over the limit means here, °F above ambient (me_fac/185 [P]). */
const LIMIT_F = 170;
/** Nuisances kept for each rule, per 1,000 passes: far more than the dearest cost that is swept to. */
const KEPT_PER_THOUSAND = 25;
const KEPT_AT_LEAST = 60;
/** A warn looks about so far ahead (`within` of the rules): the truth being known, a crossing this near would have been warned of. */
const KNOWABLE_MILES = 120;
/** Fewest readings of a warn in the rules. */
const KNOWABLE_READINGS = 2;
/** Examples of a kind kept for whoever wants to know why. */
const EXAMPLES = 20;

/** Scores a run train by train. */
export class DayScore {
  private readonly run: Run;
  private readonly railroad: Railroad;
  private readonly book: RuleBook;
  private readonly cases: DevelopingCase[] = [];
  private readonly nuisances: Nuisance[][] = RULES.map(() => []);
  private readonly keptDownTo: number[] = RULES.map(() => Number.NEGATIVE_INFINITY);
  private readonly chance = new ChanceAccount();
  private readonly crossing = new CrossingAccount();
  private readonly joins = new JoinAccount();
  private readonly vehicles = new VehicleAccount();
  private readonly limits = { readings: 0, reported: 0, missed: [] as string[] };
  private readonly trips = { withDefect: 0, withoutDefect: 0 };
  private trains = 0;
  private passes = 0;
  private axles = 0;
  private developing = 0;
  private idle = 0;

  constructor(run: Run, railroad: Railroad, book: RuleBook) {
    this.run = run;
    this.railroad = railroad;
    this.book = book;
  }

  train(train: TrainCase, trainOfPass: (passId: string) => string | null): void {
    this.trains++;
    this.passes += train.passes.length;
    for (const one of train.passes) this.axles += one.axleOfRow.length;
    const scores = new TrainScores(train, this.railroad, this.book);
    for (const truth of train.bearings) if (truth.kind === "developing") this.developed(scores, truth);
    for (let rule = 0; rule < RULES.length; rule++) this.keep(rule, scores.nuisances(rule, this.keptDownTo[rule]!));
    this.chance.train(scores);
    this.crossing.train(scores);
    this.joins.train(train, this.railroad, trainOfPass);
    this.vehicles.train(train);
    this.limitReadings(train);
    countTrips(scores, this.trips);
  }

  private developed(scores: TrainScores, truth: BearingTruth): void {
    this.developing++;
    if (truth.crossing === null) {
      this.idle++;
      return;
    }
    const key = bearingKey(truth.axle, truth.side);
    const limit = scores.passes.find((pass) => pass.riseF[key]! >= LIMIT_F);
    const limitMile = limit?.miles ?? null;
    const failureMile = truth.failure?.mile ?? null;
    const before = scores.passes.filter((pass) => isBefore(pass.miles, limitMile) && isBefore(pass.miles, failureMile));
    const measured = before.filter((pass) => !Number.isNaN(pass.riseF[key]!));
    const crossingMile = truth.crossing.mile;
    this.cases.push({
      number: this.developing,
      train: truth.train,
      axle: truth.axle,
      side: truth.side,
      class: truth.class,
      form: truth.form,
      onsetMile: truth.onsetMile ?? 0,
      crossingMile,
      failureMile,
      limitMile,
      chances: before.map((pass) => ({ miles: pass.miles, scores: RULES.map((_, rule) => scores.scoresOf(key, rule)[pass.index]!) })),
      readings: measured.length,
      knowable: measured
        .slice(KNOWABLE_READINGS - 1)
        .some(({ miles }) => miles >= (truth.onsetMile ?? 0) && crossingMile - miles <= KNOWABLE_MILES),
      curve: scores.curve(key),
    });
  }

  private keep(rule: number, found: readonly Nuisance[]): void {
    const kept = this.nuisances[rule]!;
    kept.push(...found);
    const most = Math.max(KEPT_AT_LEAST, (this.passes / 1_000) * KEPT_PER_THOUSAND);
    if (kept.length < 2 * most) return;
    kept.sort((a, b) => b.score - a.score);
    kept.length = Math.ceil(most);
    this.keptDownTo[rule] = kept.at(-1)!.score;
  }

  /** Every reading at or over the limit that was received, and whether `limit` was said of that very bearing at that pass. */
  private limitReadings(train: TrainCase): void {
    for (const one of train.passes) {
      if (one.pass === null || one.levels === null) continue;
      const { pass } = one;
      const limits = limitsOf(this.book.at(pass.endedMs), this.railroad.sites.get(pass.site)!.kind, false);
      for (const rail of [0, 1] as const) {
        const column = pass.bearingRiseF[rail];
        for (let row = 0; row < pass.axles; row++) {
          if (!(column[row]! >= limits.bearingF)) continue;
          this.limits.readings++;
          const told = one.looks.some(
            (look) => look.now === "limit" && look.rail === rail && Math.abs(look.row - row) <= (one.axleOfRow[row]! < 0 ? 1 : 0),
          );
          if (told) this.limits.reported++;
          else if (this.limits.missed.length < EXAMPLES) {
            const axle = one.axleOfRow[row]!;
            this.limits.missed.push(
              `${pass.id} row ${row} rail ${rail} ${column[row]} °F, axle ${axle}, side ${trueSide(one.truth, rail)}`,
            );
          }
        }
      }
    }
  }

  close(watch: DayWatch, milliseconds: number): RunOutcome {
    const { world, seed, hours } = this.run;
    const nuisances = this.nuisances.map((kept) => kept.sort((a, b) => b.score - a.score || (a.train < b.train ? -1 : 1)));
    return {
      world,
      seed,
      hours,
      rules: [...RULES],
      trains: this.trains,
      passes: this.passes,
      axles: this.axles,
      developing: this.developing,
      warningRecords: watch.warnings,
      rejected: watch.rejected,
      cases: this.cases,
      nuisances,
      keptDownTo: this.keptDownTo,
      trips: this.trips,
      idle: this.idle,
      chance: this.chance.bins,
      crossing: this.crossing.counts,
      limits: this.limits,
      joins: { withId: this.joins.withId, withoutId: this.joins.withoutId },
      wrongJoins: this.joins.wrong,
      undoneJoins: this.joins.undone,
      identity: watch.identity.counts(),
      vehicles: { plain: this.vehicles.plain },
      biasErrorF: biasErrors(watch),
      milliseconds,
    };
  }
}

/** Earlier than something that may never have come. */
function isBefore(miles: number, mark: number | null): boolean {
  return mark === null || miles < mark;
}
