import type { Comparison } from "./comparison.ts";
import { accumulate } from "./cusum.ts";
import type { PairLife, ScannerLife } from "./scanner-life.ts";
import type { WatchContext } from "./watch-context.ts";
import {
  DECISION_NATS,
  DECISION_SDS,
  DRIFT_ALLOWANCE_SHARE,
  DRIFT_AVERAGE_SHARE,
  DRIFT_CLEAR_SHARE,
  MOST_OF_DECISION,
  SUDDEN_MS,
  TRAIN_SD_F,
} from "./watch-numbers.ts";

/**
 * Both scanners of a track off alike: suddenly low in frost is snow or ice; anything else is a drift of both. Answers whether
 * snow is told of, which then explains what the single scanners show.
 */
export function judgeSnow(
  context: WatchContext,
  { leg, bothF }: Comparison,
  pair: PairLife,
  lives: readonly [ScannerLife, ScannerLife],
): boolean {
  const { pass } = leg;
  const { site, track, endedMs } = pass;
  const { driftF, snowBelowF } = context.rulesAt(endedMs).scanner;
  const isFrost = pass.ambientF <= snowBelowF;
  if (!Number.isFinite(bothF)) return context.book.isOpen(site, track, "snow");
  const step = (off: number) => Math.min((off - DRIFT_ALLOWANCE_SHARE * driftF) / TRAIN_SD_F, MOST_OF_DECISION * DECISION_SDS);
  const isFar = Math.abs(pair.offF ?? 0) >= DRIFT_AVERAGE_SHARE * driftF;
  const isUp = accumulate(pair.up, step(bothF), DECISION_SDS, endedMs) && isFar;
  const isDown = accumulate(pair.down, step(-bothF), DECISION_SDS, endedMs) && isFar;
  const coldBoth = lives.every((life) => life.cold.sum >= DECISION_NATS);
  const isSudden = endedMs - (pair.down.sinceMs ?? endedMs) <= SUDDEN_MS;
  const isOpen = context.book.isOpen(site, track, "snow");
  if ((isDown || coldBoth) && isFrost && (isSudden || isOpen)) {
    context.book.raise({
      site,
      device: track,
      kind: "snow",
      atMs: endedMs,
      words: `Both bearing scanners of ${context.said.track(site, track)} suddenly read about ${Math.abs(pair.offF ?? bothF).toFixed(0)} °F too low at ${pass.ambientF.toFixed(0)} °F: most likely snow or ice.`,
      advice: "Have the scanners cleared, and their heaters and covers looked at. A hot bearing may be missed there until then.",
      evidence: `pass ${pass.id}: both sides ${bothF.toFixed(1)} °F against the sites beside it`,
    });
    return true;
  }
  if (pair.down.sum === 0 && pair.up.sum === 0 && Math.abs(pair.offF ?? 0) < DRIFT_CLEAR_SHARE * driftF) {
    context.book.clear(site, track, "snow", endedMs, `pass ${pass.id} reads as at the sites beside it again`);
    context.book.clear(
      site,
      track,
      "drift",
      endedMs,
      `both scanners read within ${Math.abs(pair.offF ?? 0).toFixed(1)} °F of the sites beside it again`,
    );
    return false;
  }
  if (isOpen) return true;
  // The scanners by themselves are told of as cold.
  if ((isUp || isDown) && !coldBoth) {
    context.book.raise({
      site,
      device: track,
      kind: "drift",
      atMs: endedMs,
      words: `Both bearing scanners of ${context.said.track(site, track)} read about ${Math.abs(pair.offF ?? bothF).toFixed(0)} °F too ${bothF > 0 ? "high" : "low"} against the sites beside it.`,
      advice: "Have the ambient reading and the calibration of the site checked: what both sides share is often the ambient.",
      evidence: `pass ${pass.id}: both sides ${bothF.toFixed(1)} °F`,
    });
  }
  return false;
}
