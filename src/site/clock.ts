import { medianInPlace } from "../bearing/robust.ts";
import type { Journey, Leg } from "../journey/journey.ts";
import type { Pass } from "../pass/pass.ts";
import type { SiteWords } from "./site-words.ts";
import type { WatchContext } from "./watch-context.ts";
import { CLOCK_LEVELS, CLOCK_SAMPLES, CLOCK_SCATTER_MS, CLOCK_STEP_MS } from "./watch-numbers.ts";

interface Sample {
  nowMs: number;
  /** The site's time less ours. */
  offMs: number;
}

/** A word of a site whose time is held against what comes next: it must lie between what came before it and after it. */
interface Heard {
  site: string;
  ms: number;
  lowMs: number;
}

export interface ClockState {
  samples: Sample[];
  /** A level an hour, to tell a drift from a jump. */
  levels: Sample[];
  /** What the trains' running times say, in milliseconds; from neighbours. */
  runningMs: number[];
  /** Placed by arrival: the assembling stage did not believe it. */
  isRefused: boolean;
}

const ADVICE = "Set the site's clock. Until then times and running times of its trains are off.";
const LATE_ADVICE = "Look at the site's communication. What it sends is right, but comes too late for anybody to act on.";
const MINUTE_MS = 60_000;
const HOUR_MS = 3_600_000;
const RUNNING_KEPT = 8;
const RUNNING_ENOUGH = 3;
/** Under this a clock is right. */
const RIGHT_MS = 5_000;
/** Words of one site before another one is heard. */
const MOST_PENDING = 20;

/**
 * A site's time against ours (ticks, else the other sites): a steady offset, a jump or a drift of its clock, or a site whose
 * records come late. What all sites share is ours and not held against any. A clock that is behind and a feed that is late
 * look alike here; the trains' running times to the neighbours tell them apart.
 */
export class Clocks {
  private readonly context: WatchContext;
  private readonly states = new Map<string, ClockState>();
  private pending: Heard[] = [];
  /** How far off each of the other sites is, in any order: filled again whenever they are asked. */
  private others = new Float64Array(0);

  constructor(context: WatchContext) {
    this.context = context;
    for (const site of context.owned) this.add(site);
  }

  /** A site that is owned from here on. */
  add(site: string): void {
    if (this.states.has(site)) return;
    this.states.set(site, { samples: [], levels: [], runningMs: [], isRefused: false });
    if (this.others.length < this.states.size) this.others = new Float64Array(2 * this.states.size);
  }

  /** A site is not on the line any more. */
  gone(site: string): void {
    this.states.delete(site);
    this.pending = this.pending.filter((one) => one.site !== site);
  }

  /** A record with the site's own time has come between `nowMs` and `latestMs`. */
  heard(site: string, ms: number, nowMs: number, latestMs = nowMs): void {
    if (!Number.isFinite(nowMs) || !Number.isFinite(ms)) return;
    if (this.pending.some((one) => one.site !== site)) {
      for (const one of this.pending) if (one.site !== site) this.sample(one, nowMs, latestMs);
      this.pending = this.pending.filter((one) => one.site === site);
    }
    if (!this.states.has(site) || this.pending.length >= MOST_PENDING) return;
    this.pending.push({ site, ms, lowMs: nowMs });
  }

  /** Our own time comes in steps, from one record to the next: what lies inside a step is not off. */
  private sample({ site, ms, lowMs }: Heard, nowMs: number, highMs: number): void {
    const state = this.states.get(site)!;
    const offMs = ms < lowMs ? ms - lowMs : Math.max(0, ms - highMs);
    state.samples.push({ nowMs, offMs });
    if (state.samples.length > CLOCK_SAMPLES) state.samples.shift();
    const last = state.levels.at(-1);
    if (last === undefined || nowMs - last.nowMs >= HOUR_MS) {
      state.levels.push({ nowMs, offMs: middleOf(state.samples) });
      if (state.levels.length > CLOCK_LEVELS) state.levels.shift();
    }
    if (state.samples.length === CLOCK_SAMPLES) this.judge(site, state, nowMs);
  }

  /** A leg that no late pass can change: a clock that is off makes the way to its site long and the one from it short. */
  settled(journey: Journey, leg: Leg): void {
    const at = journey.legs.indexOf(leg);
    const middle = journey.legs[at - 1];
    const first = journey.legs[at - 2];
    if (middle === undefined || first === undefined || !(leg.miles > middle.miles && middle.miles > first.miles)) return;
    const share = (middle.miles - first.miles) / (leg.miles - first.miles);
    const expectedMs = first.pass.begunMs + share * (leg.pass.begunMs - first.pass.begunMs);
    this.ran(middle.pass.site, middle.pass.begunMs - expectedMs);
  }

  /** A train took `lateMs` longer to this site than the way to the next one lets expect (and so less from it). */
  private ran(site: string, lateMs: number): void {
    const state = this.states.get(site);
    if (state === undefined || !Number.isFinite(lateMs)) return;
    state.runningMs.push(lateMs);
    if (state.runningMs.length > RUNNING_KEPT) state.runningMs.shift();
  }

  private judge(site: string, state: ClockState, nowMs: number): void {
    const { book } = this.context;
    const rules = this.context.rulesAt(nowMs).clock;
    const offMs = middleOf(state.samples) - this.common(site);
    const isSteady = scatterOf(state.samples) <= CLOCK_SCATTER_MS;
    if (Math.abs(offMs) < rules.offsetMinutes * MINUTE_MS) {
      if (state.isRefused || !isSteady) return;
      book.clear(site, "", "clock", nowMs, `its time is within ${secondsWords(offMs)} of the others again`);
      book.clear(site, "", "late", nowMs, "its records come in time again");
      return;
    }
    if (offMs < 0 && (!isSteady || this.runsRight(state, offMs))) {
      if (offMs <= -rules.lateMinutes * MINUTE_MS) this.raiseLate(site, offMs, nowMs);
      return;
    }
    if (!isSteady) return;
    this.raiseClock(site, state, offMs, nowMs);
  }

  /** What all sites are off by is our own time being off. */
  private common(but: string): number {
    const own = this.states.get(but);
    let count = 0;
    for (const state of this.states.values()) {
      const { samples } = state;
      if (state !== own && samples.length > 0) this.others[count++] = samples[samples.length - 1]!.offMs;
    }
    return count < 3 ? 0 : medianInPlace(this.others, count);
  }

  /** Running times do not show the offset: the clock is right, its records are late. */
  private runsRight({ runningMs }: ClockState, offMs: number): boolean {
    return runningMs.length >= RUNNING_ENOUGH && Math.abs(middle(runningMs)) < Math.abs(offMs) / 2;
  }

  private raiseClock(site: string, state: ClockState, offMs: number, nowMs: number): void {
    const much = `${minutesWords(offMs)} ${offMs > 0 ? "ahead of" : "behind"} the other sites`;
    this.context.book.raise({
      site,
      device: "",
      kind: "clock",
      atMs: nowMs,
      words: `The clock of ${this.context.said.site(site)} is ${much}; ${howItCame(state, offMs, this.context.said)}.`,
      advice: ADVICE,
      evidence: `${minutesWords(offMs)} at ${this.context.said.time(nowMs)}`,
    });
  }

  private raiseLate(site: string, offMs: number, nowMs: number): void {
    this.context.book.raise({
      site,
      device: "",
      kind: "late",
      atMs: nowMs,
      words: `What ${this.context.said.site(site)} sends comes up to ${minutesWords(offMs)} late.`,
      advice: LATE_ADVICE,
      evidence: `${minutesWords(offMs)} late at ${this.context.said.time(nowMs)}`,
    });
  }

  /** The assembling stage does not believe the clock at all: its passes are placed by arrival. */
  refused(pass: Pass, words: string): void {
    const state = this.states.get(pass.site);
    if (state === undefined) return;
    state.isRefused = true;
    this.context.book.raise({
      site: pass.site,
      device: "",
      kind: "clock",
      atMs: pass.endedMs,
      words: `${this.context.said.site(pass.site)}: ${words}`,
      advice: "Set the site's clock. Its passes are placed by their arrival until then.",
      evidence: `pass ${pass.pass}`,
    });
  }

  believed(pass: Pass): void {
    const state = this.states.get(pass.site);
    if (state === undefined || !state.isRefused) return;
    state.isRefused = false;
    this.context.book.clear(pass.site, "", "clock", pass.endedMs, `pass ${pass.id} agrees with the other sites again`);
  }

  /** The site's time less ours, milliseconds; null while not known. For showing. */
  offsetMs(site: string): number | null {
    const samples = this.states.get(site)?.samples ?? [];
    return samples.length === 0 ? null : middleOf(samples) - this.common(site);
  }

  state(): Record<string, ClockState> {
    return Object.fromEntries(this.states);
  }

  restore(states: Record<string, ClockState>): void {
    for (const [site, state] of Object.entries(states)) if (this.states.has(site)) this.states.set(site, structuredClone(state));
  }
}

/** Steady, a jump, or a drift: by the levels of the last hours. */
function howItCame({ levels, samples }: ClockState, offMs: number, said: SiteWords): string {
  const earlier = levels.filter((one) => one.nowMs < (samples[0]?.nowMs ?? 0));
  const before = earlier.at(-1);
  if (before === undefined) return "it has been so since it was first heard";
  const nowMs = samples[0]!.nowMs;
  const stepMs = samples[0]!.offMs - before.offMs;
  if (Math.abs(stepMs) >= Math.max(CLOCK_STEP_MS, Math.abs(offMs) / 2)) {
    return `it jumped by ${minutesWords(stepMs)} between ${said.time(before.nowMs)} and ${said.time(nowMs)}`;
  }
  // A clock that was right until then: the drift is counted from there.
  const first = earlier.findLast((one) => Math.abs(one.offMs) < RIGHT_MS) ?? earlier[0]!;
  const hours = (nowMs - first.nowMs) / HOUR_MS;
  const perHourMs = hours > 0 ? (samples[0]!.offMs - first.offMs) / hours : 0;
  if (hours >= 2 && Math.abs(perHourMs * hours) >= Math.abs(offMs) / 2) return `it drifts by ${secondsWords(perHourMs)} an hour`;
  return "it is steady";
}

const scratch = new Float64Array(Math.max(CLOCK_SAMPLES + 1, RUNNING_KEPT));

function middle(values: readonly number[]): number {
  for (let i = 0; i < values.length; i++) scratch[i] = values[i]!;
  return medianInPlace(scratch, values.length);
}

function middleOf(samples: ClockState["samples"]): number {
  for (let i = 0; i < samples.length; i++) scratch[i] = samples[i]!.offMs;
  return medianInPlace(scratch, samples.length);
}

function scatterOf(samples: ClockState["samples"]): number {
  let least = Number.POSITIVE_INFINITY;
  let most = Number.NEGATIVE_INFINITY;
  for (const { offMs } of samples) {
    if (offMs < least) least = offMs;
    if (offMs > most) most = offMs;
  }
  return most - least;
}

function minutesWords(ms: number): string {
  const minutes = Math.abs(ms) / MINUTE_MS;
  return minutes < 120 ? `${minutes.toFixed(1)} minutes` : `${(minutes / 60).toFixed(1)} hours`;
}

function secondsWords(ms: number): string {
  return `${Math.round(Math.abs(ms) / 1000)} seconds`;
}
