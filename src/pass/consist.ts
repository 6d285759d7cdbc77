import type { Consist, ConsistVehicle } from "../feed/record.ts";
import { type Length, lay } from "./laying.ts";
import type { Pass } from "./pass.ts";
import { numberVehicles, type Vehicle } from "./vehicle.ts";

/** Vehicles found and which of them each axle belongs to. */
interface Found {
  vehicles: Vehicle[];
  vehicleOfAxle: Int16Array;
}

type Spacings = Pick<Pass, "axles" | "gapInches"> & Partial<Pick<Pass, "tags">>;

/** No train has more; a longer consist is not aligned. */
const MOST_VEHICLES = 1000;

/** Standard deviation of a measured length as a share: 1 % of spacing scale and as much again for what is built (assumption). */
const LENGTH_SD = 0.015;
/** Outside half of a coupling at an end of the train is not seen: half of a usual one, give or take 2 ft (assumption). */
const HALF_COUPLING_INCHES = 50;
const UNSEEN_FEET = 2;
/** No vehicle's own part of a coupling is shorter; of what is beyond, it may have much more or much less than its half (assumptions). */
const SHORTEST_HALF_INCHES = 33;
const UNSHARED = 0.6;
/** Share of found bounds that must agree before a consist whose axles add up exactly overrules the rest. */
const OVERRULE = 0.8;
/** As in vehicles.ts: nothing is stated surer. */
const MOST_CONFIDENCE = 0.9999;
/** What is left of the doubt about a vehicle's bounds once the consist agrees with them (assumption). */
const DOUBT_LEFT = 0.1;
const INCHES_PER_FOOT = 12;

/**
 * Ids from tags and from the consist. The consist may lie either way round; vehicles set out or picked up since it was
 * made are left over on either side. A vehicle is named only where no other way to lay the consist is nearly as good.
 */
export function nameVehicles(pass: Spacings, found: Found, consist: Consist | null): Found {
  const tags = tagsOf(pass, found);
  for (const [index, tag] of tags) found.vehicles[index]!.id = tag;
  if (consist === null || consist.vehicles.length === 0 || consist.vehicles.length > MOST_VEHICLES) return found;
  if (found.vehicles.length > MOST_VEHICLES) return found;
  const forward = consist.vehicles;
  const backward = [...forward].reverse();
  const cut = bestCut(pass, found, forward, backward);
  if (cut !== null) return cut;
  const lengths = found.vehicles.map((_, index) => lengthOf(pass.gapInches, found.vehicles, index));
  const laid = lay({ vehicles: found.vehicles, lengths, tags }, forward, backward);
  const order = laid.backward ? backward : forward;
  for (let index = 0; index < laid.placeOf.length; index++) {
    const at = laid.placeOf[index]!;
    if (at >= 0) agree(found.vehicles[index]!, order[at]!);
  }
  return found;
}

/**
 * Vehicles of a pass as they were found without a consist (`findVehicles(pass, null)`), now named from one: the same as
 * `findVehicles(pass, consist)` without finding them again. The pass's own vehicles stay as they are. Not for a pass that
 * was named from an earlier consist: find its vehicles anew.
 */
export function namedVehicles(pass: Spacings & Found, consist: Consist): Found {
  const vehicles = pass.vehicles.map((vehicle): Vehicle => ({ ...vehicle, id: null }));
  return nameVehicles(pass, { vehicles, vehicleOfAxle: pass.vehicleOfAxle }, consist);
}

/** Tags by vehicle; a vehicle with two different tags keeps the first. */
function tagsOf(pass: Spacings, found: Found): Map<number, string> {
  const tags = new Map<number, string>();
  for (const [row, tag] of pass.tags ?? []) {
    const index = found.vehicleOfAxle[row] ?? -1;
    if (index >= 0 && !tags.has(index)) tags.set(index, tag);
  }
  return tags;
}

function agree(vehicle: Vehicle, named: ConsistVehicle): void {
  vehicle.id = named.id;
  if (vehicle.axles === named.axles && vehicle.kind === named.kind) vehicle.confidence = surer(vehicle.confidence);
}

function surer(confidence: number): number {
  return Math.min(MOST_CONFIDENCE, Math.round((1 - (1 - confidence) * DOUBT_LEFT) * 1e4) / 1e4);
}

/** The train cut as the consist says, when its axles add up to the train's and most bounds found agree. */
function bestCut(pass: Spacings, found: Found, forward: ConsistVehicle[], backward: ConsistVehicle[]): Found | null {
  let axles = 0;
  for (const vehicle of forward) axles += vehicle.axles;
  if (axles !== pass.axles) return null;
  const ahead = agreement(found, forward);
  const astern = agreement(found, backward);
  const order = astern > ahead ? backward : forward;
  return Math.max(ahead, astern) >= OVERRULE ? cutAs(found, order) : null;
}

/** Share of the consist's vehicles that were found with the same bounds and kind, less where a tag says otherwise. */
function agreement(found: Found, order: ConsistVehicle[]): number {
  let row = 0;
  let same = 0;
  for (const { axles, kind, id } of order) {
    const vehicle = found.vehicles[found.vehicleOfAxle[row] ?? -1];
    if (vehicle !== undefined && vehicle.firstRow === row && vehicle.axles === axles && vehicle.kind === kind) {
      same += vehicle.id !== null && vehicle.id !== id ? -1 : 1;
    }
    row += axles;
  }
  return same / order.length;
}

function cutAs(found: Found, order: ConsistVehicle[]): Found {
  const vehicleOfAxle = new Int16Array(found.vehicleOfAxle.length);
  let row = 0;
  const vehicles = order.map((named, index): Vehicle => {
    const before = found.vehicles[found.vehicleOfAxle[row] ?? -1];
    const same = before !== undefined && before.firstRow === row && before.axles === named.axles;
    vehicleOfAxle.fill(index, row, row + named.axles);
    const vehicle: Vehicle = {
      kind: named.kind,
      ordinal: 0,
      ordinalOfKind: 0,
      firstRow: row,
      axles: named.axles,
      trucks: same ? before.trucks : trucksOf(named),
      id: named.id,
      confidence: same ? surer(before.confidence) : 1 - DOUBT_LEFT,
    };
    row += named.axles;
    return vehicle;
  });
  numberVehicles(vehicles);
  return { vehicles, vehicleOfAxle };
}

function trucksOf({ axles, kind }: ConsistVehicle): number[] {
  if (kind === "locomotive" && axles === 6) return [3, 3];
  if (axles % 2 === 1) return [axles];
  return Array.from({ length: axles / 2 }, () => 2);
}

/** First to last axle and half of the couplings: a longer coupling may be longer on one vehicle than on the other. */
function lengthOf(gapInches: Float32Array, vehicles: Vehicle[], index: number): Length {
  const { firstRow, axles } = vehicles[index]!;
  const front = half(gapInches[firstRow]);
  const rear = half(gapInches[firstRow + axles]);
  let inches = front + rear;
  for (let row = firstRow + 1; row < firstRow + axles; row++) inches += gapInches[row]!;
  const unseen = index === 0 || index === vehicles.length - 1 ? UNSEEN_FEET : 0;
  const feet = inches / INCHES_PER_FOOT;
  return { feet, sdFeet: Math.hypot(feet * LENGTH_SD, unsharedFeet(front), unsharedFeet(rear), unseen) };
}

/** How far a vehicle's own part of a coupling may be from half of it. */
function unsharedFeet(halfInches: number): number {
  return (Math.max(0, halfInches - SHORTEST_HALF_INCHES) * UNSHARED) / INCHES_PER_FOOT;
}

function half(couplingInches: number | undefined): number {
  return couplingInches === undefined || Number.isNaN(couplingInches) ? HALF_COUPLING_INCHES : couplingInches / 2;
}
