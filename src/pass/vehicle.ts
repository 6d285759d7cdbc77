export type VehicleKind = "locomotive" | "car";

/** A vehicle found in a pass, from spacings, tags or the consist. Ordinals count from the head of the train as it ran over the site. */
export interface Vehicle {
  kind: VehicleKind;
  /** Among all vehicles, from 1. */
  ordinal: number;
  /** Among those of its kind, from 1: "car 164" does not count locomotives. */
  ordinalOfKind: number;
  /** Row of its first axle (0-based) and how many rows it has: its axles, less one missed or plus one counted twice. */
  firstRow: number;
  axles: number;
  /** Axles of each truck in order, e.g. [2, 2], [3, 3], or [2, 2, 2, 2] for an articulated car of three units. */
  trucks: number[];
  id: string | null;
  /** Calibrated chance that its bounds are right. */
  confidence: number;
  /** The site missed an axle of it or counted one twice: `trucks` then adds up to what was seen. Absent when nothing is odd. */
  odd?: "axle-missed" | "axle-doubled";
}

/** Numbers vehicles from the head, among all and among those of their kind. */
export function numberVehicles(vehicles: Vehicle[]): void {
  let cars = 0;
  let locomotives = 0;
  for (let k = 0; k < vehicles.length; k++) {
    const vehicle = vehicles[k]!;
    vehicle.ordinal = k + 1;
    vehicle.ordinalOfKind = vehicle.kind === "car" ? ++cars : ++locomotives;
  }
}
