import type { ByRail, Pass } from "../pass/pass.ts";
import type { TestPass } from "./functional-test.ts";

/** The site's own time of a pass's begin: tests are told in it too. */
export function ownMs(pass: Pass): number {
  return pass.begunMs + (pass.clockAheadMs ?? 0);
}

/** What a test keeps of a simulated train. */
export function testPassOf(pass: Pass): TestPass {
  const { bearingRiseF, wheelRiseF } = pass;
  return {
    id: pass.id,
    begunMs: ownMs(pass),
    axles: pass.axles,
    axlesSaid: pass.axlesSaid,
    direction: pass.direction,
    hottestF: [hottest(bearingRiseF[0]), hottest(bearingRiseF[1])],
    hottestWheelF: (wheelRiseF === null ? [null, null] : [hottest(wheelRiseF[0]), hottest(wheelRiseF[1])]) as ByRail<number | null>,
    hasSpeed: pass.speedMph.some((mph) => mph > 0),
  };
}

function hottest(column: Float32Array): number | null {
  let most = Number.NaN;
  for (const value of column) if (!(value <= most) && !Number.isNaN(value)) most = value;
  return Number.isNaN(most) ? null : most;
}
