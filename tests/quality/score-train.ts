import type { Railroad } from "../../src/line/railroad.ts";
import type { BearingTruth } from "../../src/simulate/truth.ts";
import type { RuleBook } from "../../src/warning/rule-book.ts";
import { PUBLISHED_RULES } from "../bench/baselines/published-rules.ts";
import { type CurvePoint, ENGINE, type Nuisance, type NuisanceKind, TRUE_NAMES } from "./outcome.ts";
import { publishedScores } from "./published.ts";
import { bearingKey, type LookNote, type PassCase, type TrainCase, trueAxle, trueSide } from "./train-case.ts";
import { trueNameFactors } from "./true-names.ts";
import { type TruePass, truePasses } from "./true-readings.ts";

const OWN: readonly string[] = [ENGINE, TRUE_NAMES];
const OWN_RULES = OWN.length;
export const RULES: readonly string[] = [...OWN, ...PUBLISHED_RULES.map((rule) => rule.name)];

/** A developing bearing hotter than this over ambient, as far from its limit as this, is a live defect. Assumption of the measurement. */
const LIVE_RISE_F = 100;
/** What stands within so many axles of it, or across from it, is beside it: a warn there is one for the wrong bearing. */
const BESIDE_AXLES = 3;
/** Bias from which a scanner is called sick when a nuisance is sorted by kind, °F. */
const SICK_BIAS_F = 8;

/** A bearing's best score by one rule, and where. */
interface Best {
  score: number;
  toldFrom: number;
  passIndex: number;
}

/** What every rule makes of every bearing of one train, under true names. */
export class TrainScores {
  readonly train: TrainCase;
  readonly passes: readonly TruePass[];
  /** By rule, then bearing key: score at each pass index that has one. */
  private readonly developing: Map<number, Float64Array[]> = new Map();
  private readonly bests: Map<number, Best>[] = RULES.map(() => new Map());
  /** Engine's looks by bearing key and pass index. */
  readonly looks = new Map<number, Map<number, LookNote>>();
  private readonly told = new Map<string, Map<number, number>>();
  private readonly truths = new Map<number, BearingTruth>();

  constructor(train: TrainCase, railroad: Railroad, book: RuleBook) {
    this.train = train;
    for (const truth of train.bearings) this.truths.set(bearingKey(truth.axle, truth.side), truth);
    for (const [key, truth] of this.truths) {
      if (truth.kind === "developing")
        this.developing.set(
          key,
          RULES.map(() => this.column()),
        );
    }
    const { passes, keys } = truePasses(train);
    this.passes = passes;
    this.engine();
    trueNameFactors(train, railroad, book, (at, key, factor) => this.note(1, at, key, factor));
    publishedScores(passes, keys, (rule, at, key, score) => this.note(rule + OWN_RULES, at, key, score));
  }

  private column(): Float64Array {
    return new Float64Array(this.train.passes.length).fill(Number.NEGATIVE_INFINITY);
  }

  private engine(): void {
    const byId = new Map(this.train.passes.map((one) => [one.truth.id, one]));
    this.train.passes.forEach((one, index) => {
      for (const look of one.looks) {
        const seen = byId.get(look.passId);
        if (seen === undefined || look.row < 0) continue;
        const axle = trueAxle(seen, look.row);
        if (axle < 0) continue;
        const key = bearingKey(axle, trueSide(seen.truth, look.rail));
        const known = this.looks.get(key) ?? new Map<number, LookNote>();
        known.set(index, look);
        this.looks.set(key, known);
        if (look.factor > 0) this.note(0, index, key, look.factor, this.toldFrom(look, key));
      }
    });
  }

  /**
   * The highest that the engine had made of this bearing of its roster while it stood for another true one: a warning is raised
   * once, so a name that changes hands afterwards raises none.
   */
  private toldFrom(look: LookNote, key: number): number {
    const name = `${look.journey}|${look.rosterAxle}|${look.side}`;
    const known = this.told.get(name) ?? new Map<number, number>();
    this.told.set(name, known);
    let before = Number.NEGATIVE_INFINITY;
    for (const [other, told] of known) if (other !== key && told > before) before = told;
    const now = look.now === "limit" ? Number.POSITIVE_INFINITY : look.factor;
    if (now > (known.get(key) ?? Number.NEGATIVE_INFINITY)) known.set(key, now);
    return before;
  }

  private note(rule: number, passIndex: number, key: number, score: number, toldFrom = Number.NEGATIVE_INFINITY): void {
    const truth = this.truths.get(key);
    if (truth?.kind === "developing") {
      const column = this.developing.get(key)![rule]!;
      if (score > column[passIndex]!) column[passIndex] = score;
      // What is said before the onset is said of a healthy bearing.
      if (this.train.passes[passIndex]!.truth.miles >= (truth.onsetMile ?? 0)) return;
    }
    if (toldFrom >= score) return;
    const best = this.bests[rule]!.get(key);
    if (best === undefined) this.bests[rule]!.set(key, { score, toldFrom, passIndex });
    else {
      best.toldFrom = Math.min(best.toldFrom, toldFrom);
      if (score <= best.score) return;
      best.score = score;
      best.passIndex = passIndex;
    }
  }

  scoresOf(key: number, rule: number): Float64Array {
    return this.developing.get(key)![rule]!;
  }

  /** The bearings without a developing defect that scored at least `from` by a rule. */
  nuisances(rule: number, from: number): Nuisance[] {
    const found: Nuisance[] = [];
    for (const [key, { score, toldFrom, passIndex }] of this.bests[rule]!) {
      if (!(score >= from)) continue;
      const at = this.train.passes[passIndex]!;
      const { kind, besideLive } = this.kindOf(key, at);
      const curve = rule === 0 ? this.curve(key) : [];
      const side = (key & 1) as 0 | 1;
      const trueNamesScore = this.bests[1]!.get(key)?.score ?? 0;
      const axle = key >> 1;
      found.push({ train: this.train.name, axle, side, score, toldFrom, miles: at.truth.miles, kind, besideLive, trueNamesScore, curve });
    }
    return found;
  }

  private kindOf(key: number, at: PassCase): { kind: NuisanceKind; besideLive: boolean } {
    const axle = key >> 1;
    const { miles } = at.truth;
    const besideLive = this.train.bearings.some((truth) => truth.kind === "developing" && isBeside(truth, key, at.truth.id));
    if (besideLive) return { kind: "beside", besideLive };
    const truth = this.truths.get(key);
    if (truth !== undefined && truth.kind !== "developing") return { kind: truth.kind, besideLive };
    const braked = this.train.brakes.some(
      (one) => one.axles.includes(axle) && miles >= one.fromMile && miles <= one.toMile + BRAKES_COOL_MILES,
    );
    if (braked) return { kind: "brakes", besideLive };
    const side = (key & 1) as 0 | 1;
    const rail = trueSide(at.truth, side);
    const name = rail === 0 ? "left" : "right";
    if (at.truth.marks.includes(`sun-${name}`)) return { kind: "sun", besideLive };
    const sick =
      at.truth.marks.some((mark) => mark === `cold-${name}` || mark === `ice-${name}`) || Math.abs(at.truth.biasF[rail]) >= SICK_BIAS_F;
    return { kind: sick ? "scanner" : "healthy", besideLive };
  }

  /** A bearing's readings over the train's way, with the truth where there is one. */
  curve(key: number): CurvePoint[] {
    const truth = this.truths.get(key);
    const trueF = new Map((truth?.atPasses ?? []).map((point) => [point.pass, point.riseF]));
    const received = new Map(this.passes.map((pass) => [pass.index, pass]));
    return this.train.passes.map((one, index) => {
      const riseF = received.get(index)?.riseF[key] ?? Number.NaN;
      const look = this.looks.get(key)?.get(index);
      return {
        miles: one.truth.miles,
        site: one.truth.site,
        riseF: Number.isNaN(riseF) ? null : Math.round(riseF * 10) / 10,
        trueF: trueF.get(one.truth.id) ?? null,
        factor: look?.factor ?? null,
        chanceNext: look?.outlook?.chanceNext ?? null,
        heat: look?.heat ?? "",
        mark: markOf(one, trueSide(one.truth, (key & 1) as 0 | 1)),
      };
    });
  }
}

/** Stuck brakes are warm for a few miles after they let go. Assumption of the measurement. */
const BRAKES_COOL_MILES = 15;

function isBeside(truth: BearingTruth, key: number, passId: string): boolean {
  const there = truth.atPasses.find((point) => point.pass === passId);
  if (there === undefined || there.riseF < LIVE_RISE_F) return false;
  return Math.abs(truth.axle - (key >> 1)) <= BESIDE_AXLES && bearingKey(truth.axle, truth.side) !== key;
}

/** What was odd about a pass for a bearing under one rail. */
function markOf(one: PassCase, rail: 0 | 1): string {
  const name = rail === 0 ? "left" : "right";
  const marks = one.truth.marks.filter((mark) => !/-(left|right)$/.test(mark) || mark.endsWith(name));
  if (one.pass === null) marks.push("not received");
  else if (one.levels === null) marks.push("too late");
  if (one.doubt !== null) marks.push(`join ${one.doubt}`);
  if (one.joinedFrom === null) marks.push("begins a journey");
  return marks.join(", ");
}
