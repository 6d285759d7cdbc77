import type { VehicleKind } from "../pass/vehicle.ts";
import { OVERHANG_SD_INCHES, TRUCK_CENTRE_SD_INCHES, WHEELBASE_SD_INCHES } from "./assumptions.ts";
import type { Random } from "./random.ts";

/** A kind of vehicle by its axles. Lengths in inches; the figures are rounded ones from memory, the names plain words. */
export interface Stock {
  name: string;
  kind: VehicleKind;
  /** Axles of each truck; neighbouring units of an articulated car share the trucks between them. */
  trucks: number[];
  wheelbaseInches: number;
  /** Between neighbouring trucks' centres. */
  centresInches: number;
  /** Over the pulling faces of the couplers. */
  lengthInches: number;
}

const car = (name: string, lengthInches: number, centresInches: number, wheelbaseInches = 70): Stock => ({
  name,
  kind: "car",
  trucks: [2, 2],
  wheelbaseInches,
  centresInches,
  lengthInches,
});

/** Freight wheelbase 5.6 to 6.6 ft, coal car 53 ft 1 in over pulling faces, flat car outside 95 ft; the rest from memory. */
export const CARS = {
  coal: car("coal car", 637, 486),
  hopperShort: car("short covered hopper", 502, 348),
  hopper: car("covered hopper", 703, 552),
  aggregate: car("stone hopper", 496, 336),
  tankShort: car("short tank car", 558, 408),
  tank: car("tank car", 716, 564),
  box: car("box car", 697, 556),
  boxLong: car("long box car", 812, 638),
  gondola: car("gondola", 688, 528),
  flatBeam: car("centre-beam flat car", 968, 726),
  autorack: car("auto rack", 1132, 780, 68),
  flatLong: car("long flat car", 1136, 792, 68),
  well: car("well car", 852, 648),
  wellThree: {
    name: "well car of three units",
    kind: "car",
    trucks: [2, 2, 2, 2],
    wheelbaseInches: 71,
    centresInches: 714,
    lengthInches: 2400,
  },
  wellFive: {
    name: "well car of five units",
    kind: "car",
    trucks: [2, 2, 2, 2, 2, 2],
    wheelbaseInches: 71,
    centresInches: 600,
    lengthInches: 3250,
  },
  spineFive: {
    name: "spine car of five units",
    kind: "car",
    trucks: [2, 2, 2, 2, 2, 2],
    wheelbaseInches: 70,
    centresInches: 630,
    lengthInches: 3370,
  },
} as const satisfies Record<string, Stock>;

export const LOCOMOTIVES = {
  six: { name: "six-axle locomotive", kind: "locomotive", trucks: [3, 3], wheelbaseInches: 82, centresInches: 556, lengthInches: 878 },
  sixOther: {
    name: "six-axle locomotive, other maker",
    kind: "locomotive",
    trucks: [3, 3],
    wheelbaseInches: 80,
    centresInches: 548,
    lengthInches: 864,
  },
  four: { name: "four-axle locomotive", kind: "locomotive", trucks: [2, 2], wheelbaseInches: 108, centresInches: 408, lengthInches: 708 },
} as const satisfies Record<string, Stock>;

/** One vehicle of a simulated train, with its own small differences. */
export interface Vehicle {
  kind: VehicleKind;
  id: string;
  stock: string;
  loaded: boolean;
  trucks: number[];
  axles: number;
  firstAxle: number;
  /** Spacings between its own axles, front to rear as it first ran. */
  gapsInches: Float64Array;
  /** From the outer axles to the coupler faces. */
  frontInches: number;
  rearInches: number;
  lengthFeet: number;
  /** Share of the train's warmth that it lacked when it joined, and when that was. */
  cold: number;
  joinedMs: number;
  joinedMile: number | null;
  leftMile: number | null;
}

/** Builds one vehicle of a kind. `first` is the number of its first axle. */
export function buildVehicle(stock: Stock, id: string, first: number, loaded: boolean, random: Random): Vehicle {
  const gaps: number[] = [];
  stock.trucks.forEach((axles, truck) => {
    const spacing = stock.wheelbaseInches + WHEELBASE_SD_INCHES * random.normal();
    if (truck > 0) {
      // From truck centre to truck centre, less half a truck on either side.
      const halves = ((axles - 1) * stock.wheelbaseInches) / 2 + (((stock.trucks[truck - 1] as number) - 1) * stock.wheelbaseInches) / 2;
      gaps.push(stock.centresInches - halves + TRUCK_CENTRE_SD_INCHES * random.normal());
    }
    for (let axle = 1; axle < axles; axle++) gaps.push(spacing);
  });
  const between = gaps.reduce((sum, gap) => sum + gap, 0);
  const overhang = (stock.lengthInches - between) / 2;
  return {
    kind: stock.kind,
    id,
    stock: stock.name,
    loaded,
    trucks: stock.trucks,
    axles: gaps.length + 1,
    firstAxle: first,
    gapsInches: Float64Array.from(gaps),
    frontInches: overhang + OVERHANG_SD_INCHES * random.normal(),
    rearInches: overhang + OVERHANG_SD_INCHES * random.normal(),
    lengthFeet: Math.round(stock.lengthInches / 1.2) / 10,
    cold: 0,
    joinedMs: 0,
    joinedMile: null,
    leftMile: null,
  };
}
