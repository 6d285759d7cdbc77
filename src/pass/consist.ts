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
  return cutByConsist(pass, found, tags, consist) ?? nameAsFound(pass, found, tags, consist);
}

/**
 * Vehicles of a pass as they were found without a consist (`findVehicles(pass, null)`), now named from one: the same as
 * `findVehicles(pass, consist)` without finding them again. The pass's own vehicles stay as they are. Not for a pass that
 * was named from an earlier consist: find its vehicles anew.
 */
export function namedVehicles(pass: Spacings & Found, consist: Consist): Found {
  const tags = tagsOf(pass, pass);
  const cut = cutByConsist(pass, pass, tags, consist);
  if (cut !== null) return cut;
  const vehicles = pass.vehicles.map((vehicle): Vehicle => ({ ...vehicle, id: null }));
  return nameAsFound(pass, { vehicles, vehicleOfAxle: pass.vehicleOfAxle }, tags, consist);
}

/** Names the vehicles as they were found: first by their tags, then by the consist laid along them. */
function nameAsFound(pass: Spacings, found: Found, tags: ReadonlyMap<number, string>, consist: Consist | null): Found {
  for (const [index, tag] of tags) found.vehicles[index]!.id = tag;
  if (!canBeLaid(found, consist)) return found;
  const forward = consist.vehicles;
  const backward = [...forward].reverse();
  const lengths = found.vehicles.map((_, index) => lengthOf(pass.gapInches, found.vehicles, index));
  const laid = lay({ vehicles: found.vehicles, lengths, tags }, forward, backward);
  const order = laid.backward ? backward : forward;
  for (let index = 0; index < laid.placeOf.length; index++) {
    const at = laid.placeOf[index]!;
    if (at >= 0) agree(found.vehicles[index]!, order[at]!);
  }
  return found;
}

function canBeLaid(found: Found, consist: Consist | null): consist is Consist {
  return (
    consist !== null && consist.vehicles.length > 0 && consist.vehicles.length <= MOST_VEHICLES && found.vehicles.length <= MOST_VEHICLES
  );
}

const NO_TAGS: ReadonlyMap<number, string> = new Map();

/** Tags by vehicle; a vehicle with two different tags keeps the first. */
function tagsOf(pass: Spacings, found: Found): ReadonlyMap<number, string> {
  if (pass.tags === undefined || pass.tags.size === 0) return NO_TAGS;
  const tags = new Map<number, string>();
  for (const [row, tag] of pass.tags) {
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

/** The train cut as the consist says, when its axles add up to the train's and most bounds found agree. Changes nothing that was found. */
function cutByConsist(pass: Spacings, found: Found, tags: ReadonlyMap<number, string>, consist: Consist | null): Found | null {
  if (!canBeLaid(found, consist)) return null;
  const { vehicles } = consist;
  let axles = 0;
  for (let k = 0; k < vehicles.length; k++) axles += vehicles[k]!.axles;
  if (axles !== pass.axles) return null;
  const ahead = agreement(found, tags, vehicles, false);
  const astern = agreement(found, tags, vehicles, true);
  return Math.max(ahead, astern) >= OVERRULE ? cutAs(found, vehicles, astern > ahead) : null;
}

/** Place `k` of a consist that lies one way round or the other. */
function placeAt(vehicles: readonly ConsistVehicle[], k: number, isBackward: boolean): ConsistVehicle {
  return vehicles[isBackward ? vehicles.length - 1 - k : k]!;
}

/** Share of the consist's vehicles that were found with the same bounds and kind, less where a tag says otherwise. */
function agreement(found: Found, tags: ReadonlyMap<number, string>, order: readonly ConsistVehicle[], isBackward: boolean): number {
  let row = 0;
  let same = 0;
  for (let k = 0; k < order.length; k++) {
    const named = placeAt(order, k, isBackward);
    const index = found.vehicleOfAxle[row] ?? -1;
    const vehicle = index < 0 ? undefined : found.vehicles[index];
    if (vehicle !== undefined && vehicle.firstRow === row && vehicle.axles === named.axles && vehicle.kind === named.kind) {
      const tag = tags.get(index);
      same += tag !== undefined && tag !== named.id ? -1 : 1;
    }
    row += named.axles;
  }
  return same / order.length;
}

function cutAs(found: Found, order: readonly ConsistVehicle[], isBackward: boolean): Found {
  const vehicleOfAxle = new Int16Array(found.vehicleOfAxle.length);
  const vehicles: Vehicle[] = [];
  let row = 0;
  for (let k = 0; k < order.length; k++) {
    const named = placeAt(order, k, isBackward);
    const index = found.vehicleOfAxle[row] ?? -1;
    const before = index < 0 ? undefined : found.vehicles[index];
    const isSame = before !== undefined && before.firstRow === row && before.axles === named.axles;
    for (let axle = 0; axle < named.axles; axle++) vehicleOfAxle[row + axle] = k;
    vehicles.push({
      kind: named.kind,
      ordinal: 0,
      ordinalOfKind: 0,
      firstRow: row,
      axles: named.axles,
      trucks: isSame ? before.trucks : trucksOf(named),
      id: named.id,
      confidence: isSame ? surer(before.confidence) : 1 - DOUBT_LEFT,
    });
    row += named.axles;
  }
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
