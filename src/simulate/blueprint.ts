import { LONG_TRAIN_FEET, LONGEST_TRAIN_FEET, MEDIAN_TRAIN_FEET, SHORTEST_TRAIN_FEET } from "./assumptions.ts";
import type { Random } from "./random.ts";
import { CARS, LOCOMOTIVES, type Stock } from "./stock.ts";

export type TrainKind = "mixed" | "unit" | "intermodal";

/** What a train is made of, head to rear, before each vehicle gets its own differences: look-alikes share one. */
export interface Blueprint {
  kind: TrainKind;
  vehicles: { stock: Stock; loaded: boolean }[];
  topMph: number;
}

/** Half of the trains are longer than the median, one in ten longer than LONG_TRAIN_FEET: a log-normal through both. */
const LENGTH_SIGMA = Math.log(LONG_TRAIN_FEET / MEDIAN_TRAIN_FEET) / 1.2816;

const MIXED: { weight: number; value: Stock }[] = [
  { weight: 12, value: CARS.hopper },
  { weight: 8, value: CARS.hopperShort },
  { weight: 5, value: CARS.aggregate },
  { weight: 12, value: CARS.tank },
  { weight: 8, value: CARS.tankShort },
  { weight: 12, value: CARS.box },
  { weight: 8, value: CARS.boxLong },
  { weight: 12, value: CARS.gondola },
  { weight: 7, value: CARS.flatBeam },
  { weight: 6, value: CARS.autorack },
  { weight: 6, value: CARS.flatLong },
  { weight: 2, value: CARS.well },
  { weight: 2, value: CARS.coal },
];
const UNIT: { weight: number; value: Stock }[] = [
  { weight: 5, value: CARS.coal },
  { weight: 3, value: CARS.hopper },
  { weight: 2, value: CARS.tank },
  { weight: 2, value: CARS.autorack },
  { weight: 1, value: CARS.aggregate },
];
const INTERMODAL: { weight: number; value: Stock }[] = [
  { weight: 4, value: CARS.wellThree },
  { weight: 4, value: CARS.wellFive },
  { weight: 2, value: CARS.spineFive },
  { weight: 3, value: CARS.well },
  { weight: 1, value: CARS.flatLong },
];

export function drawTrainKind(random: Random): TrainKind {
  return random.weighted<TrainKind>([
    { weight: 45, value: "mixed" },
    { weight: 30, value: "unit" },
    { weight: 25, value: "intermodal" },
  ]);
}

/** Draws a train of a kind; `carCount` overrides the length that would be drawn. */
export function drawBlueprint(kind: TrainKind, random: Random, carCount?: number): Blueprint {
  const drawnFeet = Math.min(
    LONGEST_TRAIN_FEET,
    Math.max(SHORTEST_TRAIN_FEET, MEDIAN_TRAIN_FEET * Math.exp(LENGTH_SIGMA * random.normal())),
  );
  const cars = drawCars(kind, drawnFeet, random, carCount);
  // The power goes by the train as it came out.
  const feet = cars.reduce((sum, car) => sum + car.stock.lengthInches / 12, 0);
  const locomotive: Stock = kind === "mixed" && feet < 2500 && random.chance(0.5) ? LOCOMOTIVES.four : LOCOMOTIVES.six;
  const power = (): { stock: Stock; loaded: boolean } => ({
    stock: locomotive.trucks[0] === 3 && random.chance(0.35) ? LOCOMOTIVES.sixOther : locomotive,
    loaded: true,
  });
  const vehicles: { stock: Stock; loaded: boolean }[] = [];
  const head = feet < 3000 ? random.whole(1, 2) : random.whole(2, 3);
  for (let i = 0; i < head; i++) vehicles.push(power());
  const middle = feet > 8500 && random.chance(0.6) ? Math.floor(cars.length * random.between(0.35, 0.7)) : -1;
  cars.forEach((car, index) => {
    if (index === middle) for (let i = random.whole(1, 2); i > 0; i--) vehicles.push(power());
    vehicles.push(car);
  });
  if (feet > 6000 && random.chance(0.5)) vehicles.push(power());
  const loaded = cars.some((car) => car.loaded);
  const topMph = kind === "intermodal" ? 60 : kind === "unit" ? (loaded ? 45 : 50) : 50;
  return { kind, vehicles, topMph };
}

function drawCars(kind: TrainKind, feet: number, random: Random, carCount: number | undefined): { stock: Stock; loaded: boolean }[] {
  const cars: { stock: Stock; loaded: boolean }[] = [];
  const unitStock = random.weighted(UNIT);
  const unitLoaded = random.chance(0.55);
  const wantedInches = carCount === undefined ? feet * 12 : Number.POSITIVE_INFINITY;
  const wantedCars = carCount ?? Number.POSITIVE_INFINITY;
  let inches = 0;
  while (inches < wantedInches && cars.length < wantedCars) {
    // Cars of one shipper stand together: a block of one kind.
    const stock = kind === "unit" ? unitStock : random.weighted(kind === "mixed" ? MIXED : INTERMODAL);
    const loaded = kind === "unit" ? unitLoaded : random.chance(kind === "mixed" ? 0.6 : 0.9);
    const block = kind === "unit" ? 1000 : random.whole(1, kind === "mixed" ? 9 : 4);
    for (let i = 0; i < block && inches < wantedInches && cars.length < wantedCars; i++) {
      cars.push({ stock, loaded });
      inches += stock.lengthInches;
    }
  }
  return cars;
}
