import type { ModelNumbers } from "./model-numbers.ts";
import { inlierShare, readingDensity, type Sight } from "./sight.ts";

/** Where a wandering bearing is now. */
export interface Wander {
  logEvidence: number;
  levelF: number;
  varF: number;
  slopeFPerMile: number;
}

/**
 * A bearing whose heat comes and goes: an Ornstein-Uhlenbeck process about the train's side (amplitude °F, memory in miles), which
 * is how a trend that reverses looks (roller misalignment: abrupt rise, then back; me_fac/183 [P]). Forward filter; each reading is
 * weighed as ordinary or not (probabilistic data association).
 */
export function wander(sight: Sight, amplitudeF: number, lengthMiles: number, numbers: ModelNumbers, out: Wander): void {
  const stationary = amplitudeF * amplitudeF + sight.levelSdF * sight.levelSdF;
  let level = 0;
  let variance = stationary;
  let density = 1;
  let miles = sight.firstMiles;
  for (let k = 0; k < sight.count; k++) {
    const kept = Math.exp(-Math.abs(sight.miles[k]! - miles) / lengthMiles);
    miles = sight.miles[k]!;
    level *= kept;
    variance = kept * kept * variance + (1 - kept * kept) * stationary;
    const noise = sight.sdF[k]! * sight.sdF[k]!;
    const innovation = sight.excessF[k]! - level;
    density *= readingDensity(k, innovation, 1 / Math.sqrt(variance + noise), numbers);
    const share = inlierShare[0]!;
    const gain = variance / (variance + noise);
    level += share * gain * innovation;
    variance = variance * (1 - share * gain) + share * (1 - share) * gain * gain * innovation * innovation;
  }
  const kept = Math.exp(-Math.abs(sight.nowMiles - miles) / lengthMiles);
  out.levelF = level * kept;
  out.varF = kept * kept * variance + (1 - kept * kept) * stationary;
  out.slopeFPerMile = -out.levelF / lengthMiles;
  out.logEvidence = Math.log(density);
}
