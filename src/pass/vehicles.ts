import type { Consist } from "../feed/record.ts";
import { nameVehicles } from "./consist.ts";
import type { Pass } from "./pass.ts";
import { couples, SpacingChain } from "./spacing-chain.ts";
import { E1, L1, L6, P1, UNKNOWN } from "./spacing-model.ts";
import { plainAgain, plainVehicle } from "./usual-pattern.ts";
import { numberVehicles, type Vehicle, type VehicleKind } from "./vehicle.ts";

export interface Found {
  vehicles: Vehicle[];
  /** Row -> index into vehicles, -1 where no vehicle was found. */
  vehicleOfAxle: Int16Array;
}

/** What findVehicles reads of a pass. */
export type Spacings = Pick<Pass, "axles" | "gapInches"> & Partial<Pick<Pass, "tags">>;

/** Chance that a plain pattern is what it looks like: hardly one in 100,000 of the labelled trains' was not. */
const PLAIN_CONFIDENCE = 0.9999;
/** No confidence is stated above this or below its complement: the model is not surer than that of itself. */
const MOST_CONFIDENCE = 0.9999;
/** Power on the odds that brings them to the observed share: fitted on labelled trains of seeds 1 to 12,000, tested on others. */
const ODDS_STRETCH = 1.3;

const ENGINE_TRUCKS = [3, 3];
/** Trucks of a plain car by their number, held once: no car here has more than a dozen or so. */
const MOST_TRUCKS_HELD = 16;
const CAR_TRUCKS = Array.from({ length: MOST_TRUCKS_HELD + 1 }, (_, trucks) => new Array<number>(trucks).fill(2));

const chain = new SpacingChain();

function plainTrucks(plain: number): number[] {
  if (plain === -6) return ENGINE_TRUCKS;
  const trucks = Math.abs(plain) / 2;
  return CAR_TRUCKS[trucks] ?? new Array<number>(trucks).fill(2);
}

/**
 * Vehicles of a pass from its spacings, then named from tags and the consist where there are any.
 * Linear in axles; deterministic. Rows of one vehicle are consecutive.
 */
export function findVehicles(pass: Spacings, consist: Consist | null): Found {
  const { axles: rows, gapInches } = pass;
  const vehicles: Vehicle[] = [];
  const vehicleOfAxle = new Int16Array(rows);
  let row = 0;
  while (row < rows) {
    const plain = plainVehicle(gapInches, row, rows);
    if (plain === 0) {
      const resumed = plainAgain(gapInches, row, rows);
      chain.solve(gapInches, row, resumed, row === 0, resumed === rows);
      traced(row, resumed, vehicles, vehicleOfAxle);
      row = resumed;
      continue;
    }
    const index = vehicles.length;
    const axles = Math.abs(plain);
    vehicles.push(vehicle(plain > 0 ? "car" : "locomotive", row, axles, plainTrucks(plain), PLAIN_CONFIDENCE));
    for (let k = 0; k < axles; k++) vehicleOfAxle[row + k] = index;
    row += axles;
  }
  numberVehicles(vehicles);
  return nameVehicles(pass, { vehicles, vehicleOfAxle }, consist);
}

function vehicle(kind: VehicleKind, firstRow: number, axles: number, trucks: number[], confidence: number): Vehicle {
  return { kind, ordinal: 0, ordinalOfKind: 0, firstRow, axles, trucks, id: null, confidence };
}

/** Vehicles of the stretch that the chain has just solved. */
function traced(from: number, to: number, vehicles: Vehicle[], vehicleOfAxle: Int16Array): void {
  let first = 0;
  for (let row = 1; row <= to - from; row++) {
    if (row < to - from && !couples(chain.state[row - 1]!, chain.state[row]!)) continue;
    const found = tracedVehicle(from, first, row);
    vehicleOfAxle.fill(found === null ? -1 : vehicles.length, from + first, from + row);
    if (found !== null) vehicles.push(found);
    first = row;
  }
}

/** The vehicle in rows [first, end) of the solved stretch, null for axles of nothing known. */
function tracedVehicle(from: number, first: number, end: number): Vehicle | null {
  const state = chain.state[first]!;
  if (state === UNKNOWN) return null;
  const trucks: number[] = [];
  let doubled = false;
  for (let row = first; row < end; row++) {
    const now = chain.state[row]!;
    const before = row === first ? -1 : chain.state[row - 1]!;
    if (now === before && now !== E1) doubled = true;
    if (row === first || beginsTruck(before, now)) trucks.push(1);
    else trucks[trucks.length - 1]!++;
  }
  const engine = state >= P1 && state <= L6;
  const found = vehicle(engine ? "locomotive" : "car", from + first, end - first, trucks, stated(chain.confidence(first, end, engine)));
  const built = axlesBuilt(state, trucks.length);
  if (doubled) found.odd = "axle-doubled";
  else if (end - first < built) found.odd = "axle-missed";
  return found;
}

/** Whether a step within a vehicle leads from one truck into the next. */
function beginsTruck(before: number, now: number): boolean {
  return truckOf(before) !== truckOf(now) || (before === E1 + 1 && now === E1);
}

function truckOf(state: number): number {
  return state >= L1 ? Math.floor((state - L1) / 3) + 100 : state >> 1;
}

/** Axles of a vehicle of this kind with that many trucks when none is missed. */
function axlesBuilt(state: number, trucks: number): number {
  return state >= L1 ? 6 : Math.max(4, trucks * 2);
}

/** The chain's chance made honest (its axles are less independent than it thinks), bounded, to four decimals: no reader needs more. */
function stated(chance: number): number {
  const bounded = Math.min(MOST_CONFIDENCE, Math.max(1 - MOST_CONFIDENCE, chance));
  const odds = (bounded / (1 - bounded)) ** ODDS_STRETCH;
  return Math.round(Math.min(MOST_CONFIDENCE, odds / (1 + odds)) * 1e4) / 1e4;
}
