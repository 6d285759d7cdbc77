import type { Journey, Leg } from "../journey/journey.ts";
import type { Rail } from "../line/railroad.ts";
import { scannerKey, UNKNOWN_BIAS_SD_F } from "./biases.ts";
import type { Calibration } from "./calibration.ts";
import { COVARIATES, fitWindow, JUST_STARTED_HOURS, type Observation } from "./calibration-window.ts";
import { countsLess } from "./level.ts";

const HOUR_MS = 3_600_000;
/** A bias wanders by this much an hour: a scanner that drifts is followed within a few hours (assumption). */
const DRIFT_SD_F_PER_ROOT_HOUR = 0.5;
/** Fewer bearings on a side say little about its scanner. */
const FEWEST_BEARINGS = 24;
/** A train that took longer from site to site stood somewhere and cooled; nothing is learned from that way. */
const LONGEST_WAY_HOURS = 4;
/** Scanners one calibrator learns together (a corridor's), and comparisons of one hour. Past them the rest is left out. */
const SCANNERS_MAX = 240;
const OBSERVATIONS_MAX = 4000;

/** Comparison of the two sides of one pass: scatter of the difference of medians, °F (assumption: wind, sun, loads). */
const SIDES_SD_F = 2.5;
/** Change of a train's own warmth from site to site, °F, and how it grows with the miles between (assumptions). */
const TRAIN_SD_F = 3;
const STARTING_TRAIN_SD_F = 8;
const TRAIN_VARIANCE_F2_PER_MILE = 0.4;

interface Scanner {
  site: string;
  track: string;
  rail: Rail;
  biasF: number;
  sdF: number;
  /** Effective from, of the record the state comes from; -Infinity before the first. */
  fromMs: number;
  trains: number;
  /** This hour. */
  newTrains: number;
  lastMs: number;
}

/**
 * Learns each scanner's bias from settled legs, hour by hour of event time, as one network: two scanners of a pass see one train,
 * two sites of a journey see it twice. Between hours its state is exactly the records it has published (biases, not correlations),
 * so whoever reads those records back goes on as if it had never stopped. Only differences can be measured: the mean of a corridor's
 * scanners is taken for right.
 */
export class Calibrator {
  readonly #latenessMs: number;
  readonly #scanners = new Map<string, number>();
  readonly #states: Scanner[] = [];
  readonly #observations: Observation[] = [];
  readonly #ready: Calibration[] = [];
  #windowEndMs = Number.NaN;

  /** `latenessMs`: how long after an hour its calibration comes into force, the bound within which late passes still change things. */
  constructor(latenessMs: number) {
    this.#latenessMs = latenessMs;
  }

  /** Takes a published calibration back in (after a restart, or one's own read back). One older than what is known changes nothing. */
  adopt(calibration: Calibration): void {
    const index = this.#indexOf(calibration.site, calibration.track, calibration.rail);
    if (index < 0) return;
    const state = this.#states[index]!;
    if (calibration.effectiveFromMs < state.fromMs) return;
    state.biasF = calibration.biasF;
    state.sdF = calibration.sdF;
    state.trains = calibration.trains;
    state.fromMs = calibration.effectiveFromMs;
  }

  /** Learns from one settled leg of a journey. Legs come in event-time order over all journeys. */
  learn(journey: Journey, leg: Leg): void {
    const timeMs = leg.pass.endedMs;
    if (!Number.isFinite(timeMs)) return;
    if (Number.isNaN(this.#windowEndMs)) this.#windowEndMs = (Math.floor(timeMs / HOUR_MS) + 1) * HOUR_MS;
    if (timeMs >= this.#windowEndMs) this.#closeBefore(timeMs);
    const here = this.#scannersOf(leg);
    if (here[0] < 0 && here[1] < 0) return;
    for (const index of here) if (index >= 0) this.#seen(index, timeMs);
    if (here[0] >= 0 && here[1] >= 0) {
      this.#observe({
        plus: [here[0]],
        minus: [here[1]],
        valueF: rawMedian(leg, 0) - rawMedian(leg, 1),
        sdF: SIDES_SD_F,
        covariates: null,
      });
    }
    const at = journey.legs.indexOf(leg);
    if (at > 0) this.#compare(journey, journey.legs[at - 1]!, leg, here);
  }

  /** Calibrations of all whole hours that ended by `settledMs`, each handed out once, by hour and then by id. */
  due(settledMs: number): Calibration[] {
    if (Number.isFinite(settledMs) && settledMs >= this.#windowEndMs) this.#closeBefore(settledMs);
    return this.#ready.splice(0);
  }

  /** Compares two sites that saw the same train one after the other, rail by rail of the site, sides of the train apart. */
  #compare(journey: Journey, before: Leg, leg: Leg, here: [number, number]): void {
    const there = this.#scannersOf(before);
    const hours = (leg.pass.begunMs - before.pass.endedMs) / HOUR_MS;
    if (!(hours <= LONGEST_WAY_HOURS) || before.pass.site === leg.pass.site) return;
    const plus = here.filter((index) => index >= 0);
    const minus = there.filter((index) => index >= 0);
    // Both rails of both sites, else the sides' own difference would be taken for the scanners'.
    if (plus.length !== 2 || minus.length !== 2) return;
    const valueF = (rawMedian(leg, 0) + rawMedian(leg, 1) - rawMedian(before, 0) - rawMedian(before, 1)) / 2;
    const miles = Math.abs(leg.miles - before.miles);
    const age = (before.pass.begunMs - journey.legs[0]!.pass.begunMs) / HOUR_MS;
    const trainSd = age < JUST_STARTED_HOURS ? STARTING_TRAIN_SD_F : TRAIN_SD_F;
    this.#observe({
      plus,
      minus,
      valueF,
      sdF: Math.sqrt(trainSd * trainSd + TRAIN_VARIANCE_F2_PER_MILE * miles),
      covariates: COVARIATES.map((covariate) => covariate.of(age, meanSpeed(leg) - meanSpeed(before))),
    });
  }

  #observe(observation: Observation): void {
    if (this.#observations.length < OBSERVATIONS_MAX && Number.isFinite(observation.valueF)) this.#observations.push(observation);
  }

  /** Indices of a leg's scanners, -1 for one whose readings do not count on this pass. */
  #scannersOf(leg: Leg): [number, number] {
    const { pass, levels } = leg;
    const usable = (rail: 0 | 1): boolean =>
      pass.axles >= FEWEST_BEARINGS &&
      Number.isFinite(levels.medianF[rail]) &&
      // A side that only reads low is a bias to be learned; one that also shows none of the heat sees nothing, and teaches nothing.
      !countsLess(levels.doubts[rail].filter((word) => word !== "scanner-low"));
    return [usable(0) ? this.#indexOf(pass.site, pass.track, "left") : -1, usable(1) ? this.#indexOf(pass.site, pass.track, "right") : -1];
  }

  #indexOf(site: string, track: string, rail: Rail): number {
    const key = scannerKey(site, track, rail);
    const known = this.#scanners.get(key);
    if (known !== undefined) return known;
    if (this.#states.length >= SCANNERS_MAX) return -1;
    const index = this.#states.length;
    this.#scanners.set(key, index);
    const state = { site, track, rail, biasF: 0, sdF: UNKNOWN_BIAS_SD_F, fromMs: -Infinity, trains: 0, newTrains: 0, lastMs: 0 };
    this.#states.push(state);
    return index;
  }

  #seen(index: number, timeMs: number): void {
    const state = this.#states[index]!;
    state.newTrains++;
    state.lastMs = Math.max(state.lastMs, timeMs);
  }

  /** For each scanner the one on the other rail of its track, or itself. */
  #pairs(): number[] {
    return this.#states.map((state, i) => {
      const other = state.rail === "left" ? "right" : "left";
      return this.#scanners.get(scannerKey(state.site, state.track, other)) ?? i;
    });
  }

  /** Ends the present hour; the next one holds `timeMs`. Hours without a train in between have nothing to say. */
  #closeBefore(timeMs: number): void {
    const effectiveFromMs = this.#windowEndMs + this.#latenessMs;
    this.#windowEndMs = (Math.floor(timeMs / HOUR_MS) + 1) * HOUR_MS;
    if (this.#observations.length === 0) return;
    const prior = this.#states.map((state) => ({ biasF: state.biasF, sdF: widened(state, effectiveFromMs) }));
    const learned = fitWindow(prior, this.#pairs(), this.#observations);
    this.#observations.length = 0;
    const records: Calibration[] = [];
    for (let i = 0; i < this.#states.length; i++) {
      const state = this.#states[i]!;
      if (state.newTrains === 0) continue;
      state.biasF = round(learned[i]!.biasF);
      state.sdF = round(learned[i]!.sdF);
      state.fromMs = effectiveFromMs;
      state.trains += state.newTrains;
      state.newTrains = 0;
      records.push(recordOf(state));
    }
    records.sort((a, b) => (a.id < b.id ? -1 : 1));
    this.#ready.push(...records);
  }
}

/** The longer nothing was learned, the less is known; never less than before anything was. */
function widened(state: Scanner, nowMs: number): number {
  if (state.fromMs === -Infinity) return state.sdF;
  const hours = Math.max(0, (nowMs - state.fromMs) / HOUR_MS);
  const variance = state.sdF * state.sdF + DRIFT_SD_F_PER_ROOT_HOUR * DRIFT_SD_F_PER_ROOT_HOUR * hours;
  return Math.min(UNKNOWN_BIAS_SD_F, Math.sqrt(variance));
}

function recordOf(state: Scanner): Calibration {
  return {
    type: "calibration",
    id: `${scannerKey(state.site, state.track, state.rail)}@${new Date(state.fromMs).toISOString()}`,
    version: 1,
    time: new Date(state.lastMs).toISOString(),
    site: state.site,
    track: state.track,
    rail: state.rail,
    biasF: state.biasF,
    sdF: state.sdF,
    trains: state.trains,
    effectiveFromMs: state.fromMs,
  };
}

/** Median rise of the side as the scanner sent it. */
function rawMedian(leg: Leg, rail: 0 | 1): number {
  return leg.levels.medianF[rail] + leg.levels.biasF[rail];
}

/** Speed in the middle of the train, near enough; NaN without speeds. */
function meanSpeed(leg: Leg): number {
  const speeds = leg.pass.speedMph;
  return speeds[speeds.length >> 1] ?? Number.NaN;
}

function round(value: number): number {
  return Math.round(value * 100) / 100;
}
