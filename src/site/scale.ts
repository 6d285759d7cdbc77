import type { Journey, Leg } from "../journey/journey.ts";
import type { Pass } from "../pass/pass.ts";
import { forget } from "./forget.ts";
import type { WatchContext } from "./watch-context.ts";
import { SCALE_ERRORS, SCALE_FORGOTTEN_AFTER, SCALE_TRAINS, SCALE_TRAINS_MOST, SPEEDS_SAMPLED } from "./watch-numbers.ts";

/** Logarithms of spacing scales of `site/track` against each neighbour, and of its speeds against distance over time. */
interface Scales {
  neighbours: Record<string, number[]>;
  /** Comparisons with others since the last one with a neighbour; absent: none. */
  since?: Record<string, number>;
  speeds: number[];
}

export type ScaleState = Record<string, Scales>;

const MOST_NEIGHBOURS = 8;
const INCHES_PER_MILE = 63_360;
const MS_PER_HOUR = 3_600_000;

/**
 * Spacings off by a steady factor. A comparison tells two sites apart, not which of them is wrong: a site is told of when all
 * its neighbours say the same of it, and they do not say it of each other. Speeds are held against the pass's own distance over
 * time.
 */
export class ScaleWatch {
  private readonly context: WatchContext;
  private readonly tracks = new Map<string, Scales>();
  /** The same by site, in the same order. */
  private readonly bySite = new Map<string, Scales[]>();

  constructor(context: WatchContext) {
    this.context = context;
  }

  /** A leg that no late pass can change any more. Answers with the passes by which a condition was raised. */
  settled(journey: Journey, leg: Leg): Pass[] {
    const before = journey.legs[journey.legs.indexOf(leg) - 1];
    const { pass, join } = leg;
    const raised: Pass[] = [];
    if (before !== undefined && join !== null && before.pass.site !== pass.site) {
      // The scale is against the roster, in which the leg before weighs as one of all before it.
      const against = Math.log(join.scale) - (before.join === null ? 0 : Math.log(before.join.scale));
      this.learn(pass, before.pass.site, against);
      this.learn(before.pass, pass.site, -against);
      for (const one of [pass, before.pass]) if (this.judge(one)) raised.push(one);
    }
    this.learnSpeed(pass);
    return raised;
  }

  private learn({ site, track }: Pass, neighbour: string, logScale: number): void {
    const known = this.of(site, track);
    forgetOthers(known, neighbour);
    const { neighbours } = known;
    let scales = neighbours[neighbour];
    if (scales === undefined) {
      if (Object.keys(neighbours).length >= MOST_NEIGHBOURS) return;
      scales = [];
      neighbours[neighbour] = scales;
    }
    remember(scales, rounded(logScale));
  }

  private of(site: string, track: string): Scales {
    const key = `${site}/${track}`;
    let scales = this.tracks.get(key);
    if (scales === undefined) {
      scales = { neighbours: {}, speeds: [] };
      this.enter(key, scales);
    }
    return scales;
  }

  private judge(pass: Pass): boolean {
    const { site, track } = pass;
    if (!this.context.owned.has(site)) return false;
    const limit = Math.log(1 + this.context.rulesAt(pass.endedMs).scalePercent / 100);
    const scale = this.offBy(site, track, limit);
    const isOpen = this.context.book.isOpen(site, track, "scale");
    if (scale === null || Math.abs(scale) < limit / 2) {
      if (isOpen && scale !== null) this.context.book.clear(site, track, "scale", pass.endedMs, `${percent(scale)} against its neighbours`);
      return false;
    }
    if (Math.abs(scale) < limit) return false;
    this.context.book.raise({
      site,
      device: track,
      kind: "scale",
      atMs: pass.endedMs,
      words: `${this.context.said.track(site, track)} measures axle spacings ${percent(scale)} against its neighbours, train after train. ${this.speedWords(site, track)}`,
      advice: "Have the distance between the wheel transducers, and the setting for it, checked. Speeds shown may be off as well.",
      evidence: `${percent(scale)} at pass ${pass.id}`,
    });
    return !isOpen;
  }

  /** Logarithm of the factor by which a track is off, on which all its neighbours agree; null while they do not, or know too little. */
  private offBy(site: string, track: string, limit: number): number | null {
    const all = Object.entries(this.tracks.get(`${site}/${track}`)?.neighbours ?? {}).filter(([, scales]) => scales.length >= SCALE_TRAINS);
    if (all.length === 0 || (all.length === 1 && this.known(all[0]![0]).length < 2)) return null;
    // Less than what would be told of a neighbour is how sites are built, and part of it is the very site that is judged; only a
    // site at the end of the line has nothing else to go by.
    const least = all.length === 1 ? 0 : limit;
    let sum = 0;
    let sign = 0;
    for (const [neighbour, scales] of all) {
      const { mean, error } = meanOf(scales);
      const own = mean + this.ownOf(neighbour, least);
      if (Math.abs(own) < Math.max(SCALE_ERRORS * error, limit / 2) || (sign !== 0 && Math.sign(own) !== sign)) return 0;
      sign = Math.sign(own);
      sum += own;
    }
    return sum / all.length;
  }

  /** By what a neighbour itself is off, if at least so much: what all its own neighbours agree on, 0 where they do not or where only one is known. */
  private ownOf(site: string, least: number): number {
    const means = this.known(site);
    const sign = Math.sign(means[0] ?? 0);
    if (means.length < 2 || means.some((mean) => Math.sign(mean) !== sign)) return 0;
    const own = Math.min(...means.map(Math.abs));
    return own < least ? 0 : sign * own;
  }

  /** What each neighbour that saw enough trains says of a site, whatever its track. */
  private known(site: string): number[] {
    const means: number[] = [];
    for (const { neighbours } of this.bySite.get(site) ?? []) {
      for (const other in neighbours) {
        const scales = neighbours[other]!;
        if (scales.length >= SCALE_TRAINS) means.push(meanOf(scales).mean);
      }
    }
    return means;
  }

  private learnSpeed(pass: Pass): void {
    if (!this.context.owned.has(pass.site)) return;
    const ratio = sampledSpeedRatio(pass);
    if (ratio === null) return;
    const { speeds } = this.of(pass.site, pass.track);
    remember(speeds, rounded(Math.log(ratio)));
    if (speeds.length < SCALE_TRAINS) return;
    const { mean } = meanOf(speeds);
    const limit = Math.log(1 + this.context.rulesAt(pass.endedMs).scalePercent / 100);
    if (Math.abs(mean) >= 2 * limit) {
      this.context.book.raise({
        site: pass.site,
        device: pass.track,
        kind: "scale",
        atMs: pass.endedMs,
        words: `${this.context.said.track(pass.site, pass.track)} reports speeds ${percent(mean, "high", "low")} against its own spacings and times.`,
        advice: "Have the setting of the speed checked: whether a train passed too slowly to be measured is judged by it.",
        evidence: `speeds ${percent(mean, "high", "low")} at pass ${pass.id}`,
      });
    }
  }

  private speedWords(site: string, track: string): string {
    const speeds = this.tracks.get(`${site}/${track}`)?.speeds ?? [];
    if (speeds.length < SCALE_TRAINS) return "";
    return `Its speeds are ${percent(meanOf(speeds).mean, "high", "low")} against its own spacings and times.`;
  }

  /** A site, or a track of it, is not on the line any more: nor is it a neighbour to anybody, if it was all of the site. */
  gone(site: string, track: string): void {
    forget(this.tracks, site, track);
    this.bySite.clear();
    for (const [key, scales] of this.tracks) {
      this.enter(key, scales);
      if (track !== "") continue;
      delete scales.neighbours[site];
      delete scales.since?.[site];
    }
  }

  state(): ScaleState {
    return Object.fromEntries(this.tracks);
  }

  restore(state: ScaleState): void {
    this.tracks.clear();
    this.bySite.clear();
    for (const [key, scales] of Object.entries(state)) this.enter(key, structuredClone(scales));
  }

  private enter(key: string, scales: Scales): void {
    this.tracks.set(key, scales);
    const site = key.slice(0, key.indexOf("/"));
    const there = this.bySite.get(site);
    if (there === undefined) this.bySite.set(site, [scales]);
    else there.push(scales);
  }
}

/** One more comparison with a neighbour. Another with which there has been none for long is forgotten: it says how things were. */
function forgetOthers(scales: Scales, neighbour: string): void {
  const since = scales.since ?? {};
  delete since[neighbour];
  for (const other of Object.keys(scales.neighbours)) {
    if (other === neighbour) continue;
    const count = (since[other] ?? 0) + 1;
    since[other] = count;
    if (count < SCALE_FORGOTTEN_AFTER) continue;
    delete scales.neighbours[other];
    delete since[other];
  }
  scales.since = since;
}

function remember(values: number[], value: number): void {
  values.push(value);
  if (values.length > SCALE_TRAINS_MOST) values.shift();
  known.delete(values);
}

/** What `meanOf` said of a list, until one more is remembered: every train asks for those of all its neighbours. */
const known = new WeakMap<readonly number[], Trimmed>();

interface Trimmed {
  mean: number;
  error: number;
}

/** Mean without the outer quarter on either side, and its standard error (of a plain mean: wide rather than narrow). */
function meanOf(values: readonly number[]): Trimmed {
  let trimmed = known.get(values);
  if (trimmed === undefined) {
    trimmed = trimmedMean(values);
    known.set(values, trimmed);
  }
  return trimmed;
}

function trimmedMean(values: readonly number[]): Trimmed {
  const sorted = Float64Array.from(values).sort();
  const cut = sorted.length >> 2;
  const kept = sorted.subarray(cut, sorted.length - cut);
  let sum = 0;
  for (let i = 0; i < kept.length; i++) sum += kept[i]!;
  const mean = sum / kept.length;
  let squares = 0;
  for (let i = 0; i < kept.length; i++) {
    const off = kept[i]! - mean;
    squares += off * off;
  }
  return { mean, error: Math.sqrt(squares / Math.max(1, kept.length - 1) / kept.length) };
}

const ratios = new Float64Array(SPEEDS_SAMPLED);

/** Middle of a few speeds against spacing over time; null without. */
function sampledSpeedRatio({ axles, ms, gapInches, speedMph }: Pass): number | null {
  let count = 0;
  for (let k = 1; k <= SPEEDS_SAMPLED; k++) {
    const row = Math.floor((k * (axles - 1)) / SPEEDS_SAMPLED);
    if (row < 1) continue;
    const hours = (ms[row]! - ms[row - 1]!) / MS_PER_HOUR;
    const ratio = speedMph[row]! / (gapInches[row]! / INCHES_PER_MILE / hours);
    if (hours > 0 && ratio > 0) ratios[count++] = ratio;
  }
  if (count < SPEEDS_SAMPLED / 2) return null;
  return ratios.subarray(0, count).sort()[count >> 1]!;
}

/** What is remembered is written down: five decimals are a thousandth of a per cent. */
function rounded(logScale: number): number {
  return Math.round(logScale * 1e5) / 1e5;
}

function percent(logScale: number, over = "long", under = "short"): string {
  const off = (Math.exp(logScale) - 1) * 100;
  return `${Math.abs(off).toFixed(1)} % too ${off > 0 ? over : under}`;
}
