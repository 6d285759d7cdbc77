import { type Cusum, emptyCusum } from "./cusum.ts";

/** A time during which one rail read warm. */
export interface WarmSpell {
  fromMs: number;
  toMs: number;
}

/** What is known of one scanner. Plain data. */
export interface ScannerLife {
  up: Cusum;
  down: Cusum;
  cold: Cusum;
  blind: Cusum;
  noisy: Cusum;
  wellInARow: number;
  /** Averaged deviation against the neighbours, °F; null before the first comparison. */
  offF: number | null;
  /** Learned biases, [milliseconds, °F], oldest first. */
  biases: [number, number][];
  /** Since when the learned bias has been over what is told, without a break. */
  biasedSinceMs: number | null;
  /** Over which of the two is a drift told: the readings, the learned bias. */
  driftBy: { readings: boolean; bias: boolean };
  warm: WarmSpell | null;
  warmSpells: WarmSpell[];
}

/** Both scanners of a track together. */
export interface PairLife {
  up: Cusum;
  down: Cusum;
  offF: number | null;
}

export function newScannerLife(): ScannerLife {
  return {
    up: emptyCusum(),
    down: emptyCusum(),
    cold: emptyCusum(),
    blind: emptyCusum(),
    noisy: emptyCusum(),
    wellInARow: 0,
    offF: null,
    biases: [],
    biasedSinceMs: null,
    driftBy: { readings: false, bias: false },
    warm: null,
    warmSpells: [],
  };
}

export function newPairLife(): PairLife {
  return { up: emptyCusum(), down: emptyCusum(), offF: null };
}
