import type { Pass } from "./pass.ts";
import type { Vehicle } from "./vehicle.ts";

/** Where an axle is in its vehicle; trucks and axles count from 1 from the head of the train as it ran over the site. */
export interface AxlePlace {
  vehicle: Vehicle;
  axleInVehicle: number;
  axlesInVehicle: number;
  truck: number;
  trucks: number;
  axleInTruck: number;
  axlesInTruck: number;
  /** The place is told as "about": the vehicle's bounds, or its count from the head, are not sure enough. */
  about: boolean;
}

/** Below this chance of being right a place is told as "about" (assumption: one in ten is too many to walk to the wrong truck). */
export const SURE = 0.9;

type Placed = Pick<Pass, "vehicles" | "vehicleOfAxle">;

/** Where the axle of a row is, null where no vehicle was found. */
export function placeOf(pass: Placed, row: number): AxlePlace | null {
  const index = pass.vehicleOfAxle[row] ?? -1;
  const vehicle = pass.vehicles[index];
  if (vehicle === undefined) return null;
  const axleInVehicle = row - vehicle.firstRow + 1;
  let truck = 0;
  let before = 0;
  while (truck < vehicle.trucks.length - 1 && before + vehicle.trucks[truck]! < axleInVehicle) before += vehicle.trucks[truck++]!;
  return {
    vehicle,
    axleInVehicle,
    axlesInVehicle: vehicle.axles,
    truck: truck + 1,
    trucks: vehicle.trucks.length,
    axleInTruck: axleInVehicle - before,
    axlesInTruck: vehicle.trucks[truck] ?? vehicle.axles,
    about: vehicle.odd !== undefined || vehicle.confidence < SURE || !countIsSure(pass, index),
  };
}

/** Whether the vehicles ahead were all found and are jointly sure: the crew counts cars from the head. */
function countIsSure({ vehicles }: Placed, index: number): boolean {
  let chance = 1;
  let row = 0;
  for (let k = 0; k < index; k++) {
    const { firstRow, axles, confidence } = vehicles[k]!;
    if (firstRow !== row) return false;
    row = firstRow + axles;
    chance *= confidence;
  }
  return chance >= SURE && vehicles[index]!.firstRow === row;
}

const ORDINALS = ["", "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth", "eleventh", "twelfth"];

/**
 * Words for the crew, e.g. "car 47 from the head, second axle of its rear truck, right side in the direction of travel
 * (axle 187)"; "about" where the count or the vehicle is not sure. `travelSide`: 0 left, 1 right in the direction of travel.
 */
export function placeWords(pass: Placed, row: number, travelSide: 0 | 1): string {
  const side = `${travelSide === 0 ? "left" : "right"} side in the direction of travel`;
  const place = placeOf(pass, row);
  if (place === null) return `axle ${row + 1} from the head, ${side}; which vehicle it belongs to could not be told`;
  const { vehicle } = place;
  const name = vehicle.id === null ? "" : ` (${vehicle.id})`;
  const about = place.about ? "about " : "";
  return `${about}${vehicle.kind} ${vehicle.ordinalOfKind} from the head${name}, ${axleWords(place)}, ${side} (axle ${row + 1})`;
}

function axleWords(place: AxlePlace): string {
  const axle = `${ordinal(place.axleInTruck)} axle of its ${truckWords(place)}`;
  if (place.vehicle.odd === "axle-missed") return `${axle}, as counted with one axle missed`;
  if (place.vehicle.odd === "axle-doubled") return `${axle}, as counted with one axle counted twice`;
  return axle;
}

function truckWords({ truck, trucks }: AxlePlace): string {
  if (trucks === 1) return "only truck seen";
  if (truck === 1) return "front truck";
  if (truck === trucks) return "rear truck";
  return `${ordinal(truck)} truck of ${trucks}`;
}

function ordinal(n: number): string {
  return ORDINALS[n] ?? `${n}th`;
}
