import type { Leg } from "../journey/journey.ts";
import type { Comparison, RailComparison } from "./comparison.ts";
import { accumulate, emptyCusum, evidenceOf } from "./cusum.ts";
import type { ScannerLife } from "./scanner-life.ts";
import type { WatchContext } from "./watch-context.ts";
import {
  BLIND_USUALLY,
  BLIND_WHEN,
  COLD_BIAS_MOST_F,
  COLD_SD_F,
  COLD_SD_SHARE,
  COLD_SEES_SHARE,
  COLD_SPREAD,
  DECISION_NATS,
  DECISION_SDS,
  MOST_OF_DECISION,
  SPREAD_ALLOWANCE,
  SPREAD_SD,
  WARM_TRAIN_F,
  WELL_AGAIN_PASSES,
} from "./watch-numbers.ts";

const RAILS = ["left", "right"] as const;

/** A rail whose readings do not come: the scanner is blind. */
export function judgeBlind(context: WatchContext, { pass, levels }: Leg, rail: 0 | 1, life: ScannerLife): void {
  const device = `${pass.track}/${RAILS[rail]}`;
  const isBlind = levels.doubts[rail].some((word) => word === "no-readings" || word === "readings-missing");
  const isDecided = accumulate(life.blind, evidenceOf(isBlind, BLIND_USUALLY, BLIND_WHEN), DECISION_NATS, pass.endedMs);
  if (isBlind) life.wellInARow = 0;
  else if (context.book.isOpen(pass.site, device, "blind-scanner") && ++life.wellInARow >= WELL_AGAIN_PASSES) {
    life.blind = emptyCusum();
    context.book.clear(pass.site, device, "blind-scanner", pass.endedMs, `pass ${pass.id} has its readings again`);
  }
  if (!isDecided || !isBlind) return;
  context.book.raise({
    site: pass.site,
    device,
    kind: "blind-scanner",
    atMs: pass.endedMs,
    words: `The ${RAILS[rail]} bearing scanner of ${context.said.track(pass.site, pass.track)} sends no readings, pass after pass since ${context.said.time(life.blind.sinceMs ?? pass.endedMs)}.`,
    advice: "Look at the scanner and its cable. Bearings of this side are not measured there.",
    evidence: `pass ${pass.id}`,
  });
}

/**
 * What a pass says of a scanner being cold: log likelihood ratio of seeing a small share of what the neighbours saw against
 * seeing all of it; positive when it speaks for it. NaN where the train is too cold to tell.
 */
export function weighCold({ leg, rails }: Comparison, rail: 0 | 1, life: ScannerLife): number {
  const { expectedF, spread } = rails[rail];
  if (expectedF < WARM_TRAIN_F) return Number.NaN;
  const measuredF = withoutBias(rails[rail]);
  const variance = COLD_SD_F ** 2 + (COLD_SD_SHARE * expectedF) ** 2;
  const most = MOST_OF_DECISION * DECISION_NATS;
  const low = ((measuredF - expectedF) ** 2 - (measuredF - COLD_SEES_SHARE * expectedF) ** 2) / (2 * variance);
  const score = Math.max(-most, Math.min(most, spread > COLD_SPREAD ? Math.min(low, 0) : low));
  accumulate(life.cold, score, DECISION_NATS, leg.pass.endedMs);
  return score;
}

function withoutBias({ measuredF, biasF }: RailComparison): number {
  return measuredF - Math.max(-COLD_BIAS_MOST_F, Math.min(COLD_BIAS_MOST_F, biasF));
}

/**
 * A scanner that sees next to nothing of warm trains. Answers whether it is (being) told of. In frost, while the other scanner
 * of the track is on its way there too, it is waited for: both together are snow or ice.
 */
export function judgeCold(
  context: WatchContext,
  { leg, rails }: Comparison,
  rail: 0 | 1,
  lives: readonly [ScannerLife, ScannerLife],
  score: number,
  isSnow: boolean,
): boolean {
  const { pass } = leg;
  const device = `${pass.track}/${RAILS[rail]}`;
  const life = lives[rail];
  const isOpen = context.book.isOpen(pass.site, device, "cold-scanner");
  if (Number.isNaN(score)) return isOpen;
  if (isOpen && score < 0) {
    if (++life.wellInARow < WELL_AGAIN_PASSES) return true;
    life.cold = emptyCusum();
    life.wellInARow = 0;
    context.book.clear(pass.site, device, "cold-scanner", pass.endedMs, `pass ${pass.id} reads as at the sites beside it again`);
    return false;
  }
  if (score > 0) life.wellInARow = 0;
  const mayBeIce = pass.ambientF <= context.rulesAt(pass.endedMs).scanner.snowBelowF;
  const mayBeBoth = mayBeIce && lives[1 - rail]!.cold.sum >= DECISION_NATS / 2;
  if (isSnow || score <= 0 || life.cold.sum < DECISION_NATS || (mayBeBoth && !isOpen)) return isOpen;
  const { measuredF, expectedF } = rails[rail];
  context.book.raise({
    site: pass.site,
    device,
    kind: "cold-scanner",
    atMs: pass.endedMs,
    words: `The ${RAILS[rail]} bearing scanner of ${context.said.track(pass.site, pass.track)} sees next to nothing: ${measuredF.toFixed(0)} °F where the sites beside it lead to expect ${expectedF.toFixed(0)} °F, since ${context.said.time(life.cold.sinceMs ?? pass.endedMs)}.`,
    advice: `${mayBeIce ? "It is cold enough for ice or snow. " : ""}Look for ice, snow, dirt or a shutter on the scanner. A hot bearing may be missed there.`,
    evidence: `pass ${pass.id}: ${measuredF.toFixed(1)} °F for ${expectedF.toFixed(1)} °F`,
  });
  return true;
}

/** A scanner whose readings scatter more than its neighbours' of the same train. */
export function judgeNoisy(context: WatchContext, { leg, rails }: Comparison, rail: 0 | 1, life: ScannerLife): void {
  const { pass } = leg;
  const device = `${pass.track}/${RAILS[rail]}`;
  const { spread } = rails[rail];
  const score = Math.min((spread - SPREAD_ALLOWANCE) / SPREAD_SD, MOST_OF_DECISION * DECISION_SDS);
  const isDecided = accumulate(life.noisy, score, DECISION_SDS, pass.endedMs);
  if (!isDecided) {
    if (life.noisy.sum === 0)
      context.book.clear(pass.site, device, "noisy-scanner", pass.endedMs, `pass ${pass.id} scatters as elsewhere again`);
    return;
  }
  if (score <= 0) return;
  context.book.raise({
    site: pass.site,
    device,
    kind: "noisy-scanner",
    atMs: pass.endedMs,
    words: `Readings of the ${RAILS[rail]} bearing scanner of ${context.said.track(pass.site, pass.track)} scatter ${Math.exp(spread).toFixed(1)} times as much as at the sites beside it, since ${context.said.time(life.noisy.sinceMs ?? pass.endedMs)}.`,
    advice: "Have the scanner looked at. Its readings count less; a hot bearing stands out less there.",
    evidence: `pass ${pass.id}: spread ${leg.levels.spreadF[rail].toFixed(1)} °F, ${Math.exp(spread).toFixed(2)} times the others'`,
  });
}
