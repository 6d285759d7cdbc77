import type { Rail } from "../line/railroad.ts";
import type { Calibration } from "./calibration.ts";

/** Bias of a scanner nothing was learned of: none, give or take this much (assumption). */
export const UNKNOWN_BIAS_SD_F = 6;

/** Calibrations remembered of one scanner: with one an hour, three days; older passes take the oldest of them. */
const HISTORY_MAX = 72;

export interface Bias {
  biasF: number;
  sdF: number;
}

export const UNKNOWN_BIAS: Bias = { biasF: 0, sdF: UNKNOWN_BIAS_SD_F };

/**
 * The calibrations in force, by scanner and event time. Adding a record twice changes nothing; the order of adding changes
 * nothing. One with other values for the same time takes the place of the one before: after a restart what was published
 * counts, not what could be learned anew from the records still at hand.
 */
export class Biases {
  readonly #scanners = new Map<string, Calibration[]>();

  /** Whether it says anything new. */
  add(calibration: Calibration): boolean {
    const key = scannerKey(calibration.site, calibration.track, calibration.rail);
    let history = this.#scanners.get(key);
    if (history === undefined) {
      history = [];
      this.#scanners.set(key, history);
    }
    let at = history.length;
    while (at > 0 && history[at - 1]!.effectiveFromMs > calibration.effectiveFromMs) at--;
    const known = history[at - 1];
    if (known?.effectiveFromMs === calibration.effectiveFromMs) {
      if (known.biasF === calibration.biasF && known.sdF === calibration.sdF) return false;
      history[at - 1] = calibration;
      return true;
    }
    history.splice(at, 0, calibration);
    if (history.length > HISTORY_MAX) history.shift();
    return true;
  }

  /** Bias of a scanner at an event time: the latest calibration effective by then, else none known. */
  at(site: string, track: string, rail: Rail, timeMs: number): Bias {
    const history = this.#scanners.get(scannerKey(site, track, rail));
    if (history === undefined) return UNKNOWN_BIAS;
    for (let i = history.length - 1; i >= 0; i--) {
      const calibration = history[i]!;
      if (calibration.effectiveFromMs <= timeMs) return calibration;
    }
    return UNKNOWN_BIAS;
  }

  /** The newest calibration of every scanner, for the desk and the metrics; ordered by id. */
  latest(): Calibration[] {
    const all: Calibration[] = [];
    for (const history of this.#scanners.values()) all.push(history[history.length - 1]!);
    return all.sort((a, b) => (a.id < b.id ? -1 : 1));
  }
}

export function scannerKey(site: string, track: string, rail: Rail): string {
  return `${site}/${track}/${rail}`;
}
