import { describe, expect, test } from "vitest";
import { outlook } from "../../src/bearing/outlook.ts";
import { type Kind, type Life, lifeOf } from "./curves.ts";

/** As the demonstration's rules warn. */
const WARN_NEXT = 0.2;
const WARN_NEXT_BUT_ONE = 0.35;

/** Miles of the first warning at a site before the limit was read, null when there was none. */
function firstWarning(life: Life): number | null {
  for (let i = 0; i < life.track.length; i++) {
    const now = life.track[i]!;
    if (now.riseF >= 170 || (life.crossingMiles !== null && now.miles >= life.crossingMiles)) return null;
    if (now.excessF < 15) continue;
    const next = life.track[i + 1]?.miles ?? now.miles + 15;
    const ahead = [
      { site: "next", miles: next - now.miles },
      { site: "next but one", miles: (life.track[i + 2]?.miles ?? next + 15) - now.miles },
    ];
    const seen = outlook(life.track.slice(0, i + 1), life.limitExcessF, ahead);
    if (seen.chanceNext >= WARN_NEXT || seen.chanceNextButOne >= WARN_NEXT_BUT_ONE) return now.miles;
  }
  return null;
}

function lives(kind: Kind, count: number): Life[] {
  return Array.from({ length: count }, (_, seed) => lifeOf(kind, seed + 1));
}

describe("curves of other forms than the model's own, none of which it was fitted on", () => {
  test("of slow and medium bearings that cross the limit on the way, most are warned of before, by a median of 10 miles or more", () => {
    const leads: number[] = [];
    let crossing = 0;
    for (const life of [...lives("slow", 150), ...lives("medium", 150)]) {
      const last = life.track[life.track.length - 1]!.miles;
      if (life.crossingMiles === null || life.crossingMiles > last || life.crossingMiles < 30) continue;
      crossing++;
      const at = firstWarning(life);
      if (at !== null) leads.push(life.crossingMiles - at);
    }
    leads.sort((a, b) => a - b);
    expect(crossing).toBeGreaterThan(60);
    expect(leads.length / crossing).toBeGreaterThan(0.7);
    expect(leads[leads.length >> 1]!).toBeGreaterThan(10);
  });

  test("of bearings that run warm all day fewer than one in fifty is warned of, of ordinary ones none", () => {
    expect(lives("warm", 400).filter((life) => firstWarning(life) !== null).length).toBeLessThan(8);
    expect(lives("ordinary", 400).filter((life) => firstWarning(life) !== null)).toEqual([]);
  });
});
