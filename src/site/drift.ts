import type { Calibration } from "../bearing/calibration.ts";
import type { Comparison } from "./comparison.ts";
import { accumulate, emptyCusum } from "./cusum.ts";
import type { ScannerLife } from "./scanner-life.ts";
import { judgeSun, warmSpellOver } from "./sun.ts";
import type { WatchContext } from "./watch-context.ts";
import {
  BIAS_CLEAR_SHARE,
  BIAS_SUPPORT_SHARE,
  BIASES_IN_A_ROW,
  DECISION_SDS,
  DRIFT_ALLOWANCE_SHARE,
  DRIFT_AVERAGE_SHARE,
  DRIFT_CLEAR_SHARE,
  DRIFT_SHARE_AT_END,
  MOST_OF_DECISION,
  SIDE_SD_F,
  SUDDEN_MS,
  SUN_MOST_F,
} from "./watch-numbers.ts";

const RAILS = ["left", "right"] as const;
const HOUR_MS = 3_600_000;

/**
 * One scanner reading off against its neighbours, up or down: two cumulative sums over the deviation, allowance a share of
 * what the railroad calls a drift. A warm side may be the sun, which goes by itself. Answers true when a sudden one was raised.
 */
export function judgeDrift(context: WatchContext, comparison: Comparison, rail: 0 | 1, life: ScannerLife, isExplained: boolean): boolean {
  const { leg, rails, isBetween } = comparison;
  const { pass } = leg;
  const { driftF, sunLongestHours } = context.rulesAt(pass.endedMs).scanner;
  const { aloneF } = rails[rail];
  const step = (off: number) =>
    Math.min((off - (isBetween ? DRIFT_ALLOWANCE_SHARE : DRIFT_SHARE_AT_END) * driftF) / SIDE_SD_F, MOST_OF_DECISION * DECISION_SDS);
  const isUp = accumulate(life.up, step(aloneF), DECISION_SDS, pass.endedMs);
  const isDown = accumulate(life.down, step(-aloneF), DECISION_SDS, pass.endedMs);
  if (isExplained) {
    life.up = emptyCusum();
    life.down = emptyCusum();
    return false;
  }
  const device = `${pass.track}/${RAILS[rail]}`;
  const lastsHours = (pass.endedMs - (life.up.sinceMs ?? pass.endedMs)) / HOUR_MS;
  const isSun = isUp && lastsHours < sunLongestHours && aloneF < SUN_MOST_F && !context.book.isOpen(pass.site, device, "drift");
  if (isSun) judgeSun(context, pass, rail, life);
  else if (life.up.sum === 0) warmSpellOver(context, pass, rail, life);
  const isFar = Math.abs(life.offF ?? 0) >= (isBetween ? DRIFT_AVERAGE_SHARE : DRIFT_SHARE_AT_END) * driftF;
  const isOff = isFar && ((isUp && !isSun) || isDown);
  if (isOff) {
    const isNew = !context.book.isOpen(pass.site, device, "drift");
    life.driftBy.readings = true;
    raise(context, comparison, rail, life);
    const sinceMs = (isDown ? life.down : life.up).sinceMs ?? pass.endedMs;
    return isNew && pass.endedMs - sinceMs <= SUDDEN_MS;
  }
  if (life.driftBy.readings && Math.abs(life.offF ?? 0) < DRIFT_CLEAR_SHARE * driftF && life.up.sum + life.down.sum === 0) {
    life.driftBy.readings = false;
    over(
      context,
      pass.site,
      device,
      pass.endedMs,
      life,
      `it reads within ${Math.abs(life.offF ?? 0).toFixed(1)} °F of the sites beside it again`,
    );
  }
  return false;
}

function raise(context: WatchContext, { leg, rails }: Comparison, rail: 0 | 1, life: ScannerLife): void {
  const { pass } = leg;
  const { aloneF, measuredF, expectedF } = rails[rail];
  const sinceMs = (aloneF < 0 ? life.down : life.up).sinceMs ?? pass.endedMs;
  context.book.raise({
    site: pass.site,
    device: `${pass.track}/${RAILS[rail]}`,
    kind: "drift",
    atMs: pass.endedMs,
    words: `The ${RAILS[rail]} bearing scanner of ${context.said.track(pass.site, pass.track)} reads about ${Math.abs(life.offF ?? aloneF).toFixed(0)} °F too ${(life.offF ?? aloneF) > 0 ? "high" : "low"} against the sites beside it and against its other rail, since ${context.said.time(sinceMs)}.`,
    advice: ADVICE,
    evidence: `pass ${pass.id}: ${measuredF.toFixed(1)} °F for ${expectedF.toFixed(1)} °F`,
  });
}

const ADVICE = "It is taken out of the levelled readings; the site's own alarm still works on the raw ones. Have the scanner calibrated.";

/** A scanner's learned bias: told when it is large for sure, hour after hour. A warm side is waited for as long as the sun may last. */
export function judgeBias(context: WatchContext, record: Calibration, life: ScannerLife): void {
  const { site, track, rail, biasF, sdF, trains } = record;
  const atMs = Date.parse(record.time);
  const { driftF, sunLongestHours } = context.rulesAt(atMs).scanner;
  const size = Math.abs(biasF);
  if (size - sdF < driftF) {
    life.biasedSinceMs = null;
    if (size >= BIAS_CLEAR_SHARE * driftF || !life.driftBy.bias) return;
    life.driftBy.bias = false;
    over(context, site, `${track}/${rail}`, atMs, life, `bias ${biasF.toFixed(1)} °F`);
    return;
  }
  life.biasedSinceMs ??= atMs;
  const inARow = life.biases.filter(([ms, one]) => ms >= life.biasedSinceMs! && Math.sign(one) === Math.sign(biasF)).length;
  const support = life.offF === null ? size : life.offF * Math.sign(biasF);
  if (inARow < BIASES_IN_A_ROW || support < BIAS_SUPPORT_SHARE * driftF) return;
  if (biasF > 0 && size < SUN_MOST_F && atMs - life.biasedSinceMs < sunLongestHours * HOUR_MS) return;
  life.driftBy.bias = true;
  context.book.raise({
    site,
    device: `${track}/${rail}`,
    kind: "drift",
    atMs,
    words: `The ${rail} bearing scanner of ${context.said.track(site, track)} reads ${size.toFixed(1)} °F ${biasF > 0 ? "too high" : "too low"} against its neighbours (± ${sdF.toFixed(1)}, ${trains} trains).`,
    advice: ADVICE,
    evidence: `${biasF.toFixed(1)} °F at ${context.said.time(atMs)}`,
  });
}

function over(context: WatchContext, site: string, device: string, atMs: number, life: ScannerLife, reason: string): void {
  if (!life.driftBy.readings && !life.driftBy.bias) context.book.clear(site, device, "drift", atMs, reason);
}
