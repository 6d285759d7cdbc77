import { type Leg, railOfSide } from "./journey.ts";

/** Legs that are meaned at most, so that what a bearing usually is can still follow it. Assumption. */
const MOST_MEANED = 8;
/** A hot bearing must neither make nor break a join, nor decide which cars went: what is over this many spreads counts as this many. */
const MOST_SPREADS = 4;

/** Of one side of the roster, by roster number: what its bearings were over their side, meaned, and on how many legs. NaN: never measured. */
interface SideExcess {
  meanF: Float32Array;
  legs: Uint8Array;
}

const NOTHING: SideExcess = { meanF: new Float32Array(0), legs: new Uint8Array(0) };

/**
 * What each bearing of a train usually is over its side, after one leg. Bearings keep a little warmth or coolness of their own
 * all day. Never changed once made: the next leg makes the next one, as with rosters.
 */
export class UsualExcess {
  static readonly none = new UsualExcess(NOTHING, NOTHING);
  private readonly left: SideExcess;
  private readonly right: SideExcess;

  private constructor(left: SideExcess, right: SideExcess) {
    this.left = left;
    this.right = right;
  }

  /** By roster number, in °F; shorter than the roster where the last ones were never measured. */
  meanF(side: 0 | 1): Float32Array {
    return (side === 0 ? this.left : this.right).meanF;
  }

  /** The first leg's direction was the wrong one, and so its sides. */
  turned(): UsualExcess {
    return new UsualExcess(this.right, this.left);
  }

  /** With a further leg of a roster that has given `rosterAxles` numbers. */
  after(leg: Leg, rosterAxles: number): UsualExcess {
    return new UsualExcess(sideAfter(this.left, leg, 0, rosterAxles), sideAfter(this.right, leg, 1, rosterAxles));
  }
}

function sideAfter(before: SideExcess, leg: Leg, side: 0 | 1, rosterAxles: number): SideExcess {
  const meanF = new Float32Array(rosterAxles).fill(Number.NaN);
  const legs = new Uint8Array(rosterAxles);
  meanF.set(before.meanF);
  legs.set(before.legs);
  const rail = railOfSide(leg, side);
  const excessF = leg.levels.excessF[rail];
  const mostF = mostExcessF(leg.levels.spreadF[rail]);
  for (let row = 0; row < leg.rosterOfRow.length; row++) {
    const number = leg.rosterOfRow[row]!;
    const value = cappedF(excessF[row]!, mostF);
    if (number < 0 || Number.isNaN(value)) continue;
    const heard = Math.min(legs[number]!, MOST_MEANED - 1);
    const known = heard === 0 ? value : meanF[number]!;
    meanF[number] = known + (value - known) / (heard + 1);
    legs[number] = heard + 1;
  }
  return { meanF, legs };
}

export function mostExcessF(spreadF: number): number {
  return MOST_SPREADS * Math.max(1, spreadF);
}

export function cappedF(excessF: number, mostF: number): number {
  return excessF < -mostF ? -mostF : excessF > mostF ? mostF : excessF;
}
