import type { Vehicle } from "./vehicle.ts";

/** Numbers of one vehicle before those of its trucks. */
const HEAD = 6;
const LOCOMOTIVE = 1;
const ODDS = [undefined, "axle-missed", "axle-doubled"] as const;
/** Chances are mostly told with four decimals (pass/vehicles.ts). */
const PER_CHANCE = 1e4;

/**
 * The vehicles of a pass as columns: a quarter of their memory, and three objects for the collector instead of a hundred. For
 * passes whose vehicles are asked for now and then only; nothing is lost.
 */
export class PackedVehicles {
  /** Of each: kind and oddity, ordinal, ordinal of its kind, first row, axles, number of trucks; then the axles of each truck. */
  private readonly numbers: Uint16Array;
  /** null: none has an id. */
  private readonly ids: readonly (string | null)[] | null;
  /** In ten thousandths, or as they are where that says something else. */
  private readonly confidences: Uint16Array | Float64Array;

  /** `like`: those of the same train elsewhere. What is the same in both is held once. */
  constructor(vehicles: readonly Vehicle[], like: PackedVehicles | null = null) {
    const ids = idsOf(vehicles);
    this.numbers = like !== null && saysSame(like.numbers, vehicles) ? like.numbers : numbersOf(vehicles);
    this.ids = ids !== null && like !== null && like.ids !== null && sameIds(ids, like.ids) ? like.ids : ids;
    this.confidences = confidencesOf(vehicles);
  }

  /** The vehicles as they were; new ones each time. */
  unpacked(): Vehicle[] {
    const vehicles: Vehicle[] = [];
    for (let at = 0; at < this.numbers.length; at += HEAD + this.numbers[at + HEAD - 1]!)
      vehicles.push(this.vehicleAt(at, vehicles.length));
    return vehicles;
  }

  private vehicleAt(at: number, k: number): Vehicle {
    const { numbers, confidences } = this;
    const odd = ODDS[numbers[at]! >> 1];
    const from = at + HEAD;
    return {
      kind: (numbers[at]! & LOCOMOTIVE) > 0 ? "locomotive" : "car",
      ordinal: numbers[at + 1]!,
      ordinalOfKind: numbers[at + 2]!,
      firstRow: numbers[at + 3]!,
      axles: numbers[at + 4]!,
      trucks: Array.from(numbers.subarray(from, from + numbers[at + 5]!)),
      id: this.ids === null ? null : this.ids[k]!,
      confidence: confidences instanceof Uint16Array ? confidences[k]! / PER_CHANCE : confidences[k]!,
      ...(odd === undefined ? {} : { odd }),
    };
  }
}

function numbersOf(vehicles: readonly Vehicle[]): Uint16Array {
  let length = 0;
  for (let k = 0; k < vehicles.length; k++) length += HEAD + vehicles[k]!.trucks.length;
  const numbers = new Uint16Array(length);
  let at = 0;
  for (let k = 0; k < vehicles.length; k++) {
    const vehicle = vehicles[k]!;
    const { trucks } = vehicle;
    numbers[at++] = headOf(vehicle);
    numbers[at++] = vehicle.ordinal;
    numbers[at++] = vehicle.ordinalOfKind;
    numbers[at++] = vehicle.firstRow;
    numbers[at++] = vehicle.axles;
    numbers[at++] = trucks.length;
    for (let truck = 0; truck < trucks.length; truck++) numbers[at++] = trucks[truck]!;
  }
  return numbers;
}

/** Whether `numbersOf` the vehicles would say the same again. */
function saysSame(numbers: Uint16Array, vehicles: readonly Vehicle[]): boolean {
  let at = 0;
  for (let k = 0; k < vehicles.length; k++) {
    const vehicle = vehicles[k]!;
    const { trucks } = vehicle;
    if (numbers[at] !== headOf(vehicle) || numbers[at + 1] !== vehicle.ordinal || numbers[at + 2] !== vehicle.ordinalOfKind) return false;
    if (numbers[at + 3] !== vehicle.firstRow || numbers[at + 4] !== vehicle.axles || numbers[at + 5] !== trucks.length) return false;
    at += HEAD;
    for (let truck = 0; truck < trucks.length; truck++) if (numbers[at++] !== trucks[truck]) return false;
  }
  return at === numbers.length;
}

function headOf({ kind, odd }: Vehicle): number {
  return (kind === "locomotive" ? LOCOMOTIVE : 0) + 2 * ODDS.indexOf(odd);
}

function idsOf(vehicles: readonly Vehicle[]): (string | null)[] | null {
  for (let k = 0; k < vehicles.length; k++) if (vehicles[k]!.id !== null) return vehicles.map(({ id }) => id);
  return null;
}

function confidencesOf(vehicles: readonly Vehicle[]): Uint16Array | Float64Array {
  const packed = new Uint16Array(vehicles.length);
  for (let k = 0; k < packed.length; k++) {
    const { confidence } = vehicles[k]!;
    packed[k] = Math.round(confidence * PER_CHANCE);
    if (packed[k]! / PER_CHANCE !== confidence) return Float64Array.from(vehicles, (vehicle) => vehicle.confidence);
  }
  return packed;
}

function sameIds(a: readonly (string | null)[], b: readonly (string | null)[]): boolean {
  if (a.length !== b.length) return false;
  for (let k = 0; k < a.length; k++) if (a[k] !== b[k]) return false;
  return true;
}
