import { type Journey, type Leg, railOfSide } from "../../src/journey/journey.ts";
import { type PassCase, trueSide } from "./train-case.ts";

/** True axle and side behind each axle of one journey's roster, as the first leg that saw it showed them. */
interface Roster {
  train: string;
  axleOf: Int32Array;
  turned: Int8Array;
  legs: Uint16Array;
  wrong: Uint16Array;
}

const NOT_SEEN = -2;

export interface IdentityCounts {
  /** Readings of bearings on every leg after the first that saw them, and how many stand under another bearing's name. */
  readings: number;
  wrongReadings: number;
  /** Bearings seen on two legs or more, and how many of them kept their name over the whole journey. */
  bearings: number;
  wholeBearings: number;
  /** Rows of true axles that a joined leg left without a roster axle. */
  unnamedRows: number;
  namedRows: number;
}

/** Follows whether a roster axle is the same bearing on every leg of its journey. */
export class IdentityBook {
  private readonly rosters = new Map<string, Roster>();
  private unnamedRows = 0;
  private namedRows = 0;

  settled(corridor: string, journey: Journey, leg: Leg, train: string, one: PassCase): void {
    const roster = this.rosterOf(`${corridor}|${journey.id}`, journey, train);
    const turned = railOfSide(leg, 0) ^ trueSide(one.truth, 0);
    const { rosterOfRow } = leg;
    for (let row = 0; row < rosterOfRow.length; row++) {
      const axle = one.axleOfRow[row] ?? -1;
      if (axle < 0) continue;
      const named = rosterOfRow[row]!;
      if (named < 0) {
        this.unnamedRows++;
        continue;
      }
      this.namedRows++;
      if (roster.axleOf[named] === NOT_SEEN) {
        roster.axleOf[named] = axle;
        roster.turned[named] = turned;
      }
      roster.legs[named] = roster.legs[named]! + 1;
      const same = roster.train === train && roster.axleOf[named] === axle && roster.turned[named] === turned;
      if (!same) roster.wrong[named] = roster.wrong[named]! + 1;
    }
  }

  counts(): IdentityCounts {
    const counts = {
      readings: 0,
      wrongReadings: 0,
      bearings: 0,
      wholeBearings: 0,
      unnamedRows: this.unnamedRows,
      namedRows: this.namedRows,
    };
    for (const { legs, wrong } of this.rosters.values()) {
      for (let axle = 0; axle < legs.length; axle++) {
        if (legs[axle]! < 2) continue;
        // Both ends of an axle share its name.
        counts.bearings += 2;
        if (wrong[axle] === 0) counts.wholeBearings += 2;
        counts.readings += 2 * (legs[axle]! - 1);
        counts.wrongReadings += 2 * wrong[axle]!;
      }
    }
    return counts;
  }

  private rosterOf(key: string, journey: Journey, train: string): Roster {
    const known = this.rosters.get(key);
    if (known !== undefined && known.axleOf.length >= journey.rosterAxles) return known;
    const room = journey.rosterAxles + 64;
    const roster: Roster = {
      train: known?.train ?? train,
      axleOf: new Int32Array(room).fill(NOT_SEEN),
      turned: new Int8Array(room),
      legs: new Uint16Array(room),
      wrong: new Uint16Array(room),
    };
    if (known !== undefined) {
      roster.axleOf.set(known.axleOf);
      roster.turned.set(known.turned);
      roster.legs.set(known.legs);
      roster.wrong.set(known.wrong);
    }
    this.rosters.set(key, roster);
    return roster;
  }
}
