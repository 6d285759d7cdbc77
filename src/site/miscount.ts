import type { Leg } from "../journey/journey.ts";
import { forget } from "./forget.ts";
import { binomialAtLeast, poissonLowerBound } from "./poisson.ts";
import type { WatchContext } from "./watch-context.ts";
import { FEWEST_MISCOUNTS, MISCOUNT_AXLES, MISCOUNT_DOUBT, MISCOUNT_TRAINS, NO_SPEED_SHARE, ONE_DIRECTION_DOUBT } from "./watch-numbers.ts";

interface Counted {
  axles: number;
  missed: number;
  doubled: number;
  /** Axles counted without a speed: the second transducer did not answer. */
  noSpeed: number;
  isRising: boolean;
}

/** The last passes of each `site/track`. */
export type MiscountState = Record<string, Counted[]>;

/** Passes kept of a track, whatever their length. */
const MOST_PASSES = 100;

/**
 * Miscounts by rate: axles missed or counted twice against the same trains at other sites, over the last axles of a track.
 * Raised when the rate is over the railroad's for sure (exact Poisson bound), taken back when it no longer is near it.
 */
export class Miscounts {
  private readonly context: WatchContext;
  private readonly tracks = new Map<string, Counted[]>();

  constructor(context: WatchContext) {
    this.context = context;
  }

  /** A leg that no late pass can change any more. Answers true when a condition was raised by it. */
  settled(leg: Leg): boolean {
    const { pass, join } = leg;
    if (join === null || pass.axles === 0) return false;
    const key = `${pass.site}/${pass.track}`;
    let passes = this.tracks.get(key);
    if (passes === undefined) {
      passes = [];
      this.tracks.set(key, passes);
    }
    const { missedSingly: missed, doubled } = join;
    passes.push({ axles: pass.axles, missed, doubled, noSpeed: speedless(leg), isRising: leg.direction === "rising" });
    let axles = passes.reduce((sum, one) => sum + one.axles, 0);
    while (passes.length > 1 && (axles - passes[0]!.axles >= MISCOUNT_AXLES || passes.length > MOST_PASSES)) axles -= passes.shift()!.axles;
    return this.judge(leg, passes, axles);
  }

  private judge(leg: Leg, passes: readonly Counted[], axles: number): boolean {
    const { site, track, endedMs, id } = leg.pass;
    const missed = passes.reduce((sum, one) => sum + one.missed, 0);
    const doubled = passes.reduce((sum, one) => sum + one.doubled, 0);
    const wrong = missed + doubled;
    const limit = this.context.rulesAt(endedMs).miscountsPer1000;
    const isOpen = this.context.book.isOpen(site, track, "miscount");
    const trains = passes.filter((one) => one.missed + one.doubled > 0).length;
    const surely = wrong < FEWEST_MISCOUNTS || trains < MISCOUNT_TRAINS ? 0 : (1000 * poissonLowerBound(wrong, MISCOUNT_DOUBT)) / axles;
    if (surely > limit || (isOpen && wrong > 0 && (1000 * wrong) / axles > limit / 2)) {
      if (!isOpen || surely > limit) this.raise(leg, { wrong, missed, doubled, axles, surely }, passes);
      return !isOpen;
    }
    if (isOpen)
      this.context.book.clear(
        site,
        track,
        "miscount",
        endedMs,
        `${((1000 * wrong) / axles).toFixed(1)} per 1,000 axles again (pass ${id})`,
      );
    return false;
  }

  private raise(
    leg: Leg,
    { wrong, missed, doubled, axles, surely }: { wrong: number; missed: number; doubled: number; axles: number; surely: number },
    passes: readonly Counted[],
  ): void {
    const { site, track, endedMs, id } = leg.pass;
    this.context.book.raise({
      site,
      device: track,
      kind: "miscount",
      atMs: endedMs,
      words:
        `${this.context.said.track(site, track)} missed or doubled ${wrong} of its last ${axles} axles against the sites beside it ` +
        `(${missed} missed, ${doubled} counted twice; at least ${surely.toFixed(1)} per 1,000). ${transducerWords(passes)}`,
      advice: "Have the wheel transducers checked: a crew may be sent to the wrong axle.",
      evidence: `pass ${id}: ${leg.join?.missedSingly ?? 0} missed, ${leg.join?.doubled ?? 0} doubled`,
    });
  }

  /** Share of axles that agree with the neighbours'; null while nothing is known. For showing. */
  agreement(site: string, track: string): { axles: number; wrong: number } | null {
    const passes = this.tracks.get(`${site}/${track}`);
    if (passes === undefined) return null;
    return { axles: sumOf(passes, (one) => one.axles), wrong: sumOf(passes, (one) => one.missed + one.doubled) };
  }

  /** A site, or a track of it, is not on the line any more. */
  gone(site: string, track: string): void {
    forget(this.tracks, site, track);
  }

  state(): MiscountState {
    return Object.fromEntries(this.tracks);
  }

  restore(state: MiscountState): void {
    this.tracks.clear();
    for (const [key, passes] of Object.entries(state))
      this.tracks.set(
        key,
        passes.map((one) => ({ ...one })),
      );
  }
}

/**
 * Which transducer is more likely. Transducer 1 is the one that a train with rising mileposts reaches first. An axle that the
 * first one misses is not counted; one that the second misses has no speed. So axles missed in one direction only, or speeds
 * missing in one direction only, name it (assumption: the site counts at the transducer reached first).
 */
function transducerWords(passes: readonly Counted[]): string {
  const rising = passes.filter((one) => one.isRising);
  const falling = passes.filter((one) => !one.isRising);
  for (const [with_, against, first, second] of [
    [rising, falling, 1, 2],
    [falling, rising, 2, 1],
  ] as const) {
    const axles = sumOf(with_, (one) => one.axles);
    const noSpeed = sumOf(with_, (one) => one.noSpeed);
    if (
      axles > 0 &&
      noSpeed / axles > NO_SPEED_SHARE &&
      sumOf(against, (one) => one.noSpeed) /
        Math.max(
          1,
          sumOf(against, (one) => one.axles),
        ) <
        noSpeed / axles / 4
    ) {
      return `Axles lack a speed in one direction only: look at transducer ${second} first.`;
    }
    const missed = sumOf(with_, (one) => one.missed);
    const elsewhere = sumOf(against, (one) => one.missed);
    const share = axles / Math.max(1, axles + sumOf(against, (one) => one.axles));
    const isOneWay = binomialAtLeast(missed, missed + elsewhere, share) < ONE_DIRECTION_DOUBT;
    if (against.length > 0 && missed >= FEWEST_MISCOUNTS && isOneWay) {
      return `Axles are missed in one direction only: look at transducer ${first} first.`;
    }
  }
  return "Both directions are alike, so the counts do not say which transducer.";
}

function speedless({ pass }: Leg): number {
  let count = 0;
  let some = false;
  for (let row = 0; row < pass.axles; row++) {
    if (Number.isNaN(pass.speedMph[row]!)) count++;
    else some = true;
  }
  // A site without speeds at all says nothing of its transducers by that.
  return some ? count : 0;
}

function sumOf<T>(items: readonly T[], of: (item: T) => number): number {
  let sum = 0;
  for (const item of items) sum += of(item);
  return sum;
}
