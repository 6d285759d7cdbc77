/**
 * Labelled trains for the tests of this room, from a seed. Dimensions are those of TRADE where it has them (truck
 * wheelbase 5.6 to 6.6 ft, 5 ft 10 in common; flat car outside 95 ft, coal car over pulling faces 53 ft 1 in: [M]/[S]),
 * the rest assumptions. Independent of the product's own spacing model.
 */
export interface Built {
  kind: "car" | "locomotive";
  trucks: number[];
  /** Distances from the previous axle, inches; the first one is over the coupling in front and stands in `front`. */
  inside: number[];
  overhangInches: number;
}

export interface TrainOnSite {
  gapInches: Float32Array;
  axles: number;
  /** First row and number of rows of each vehicle as the site saw it, NaN-free truth. */
  bounds: { firstRow: number; rows: number; kind: "car" | "locomotive"; odd: boolean }[];
}

/** A small seeded generator (mulberry32: public domain algorithm). */
export function seeded(seed: number): () => number {
  let a = seed >>> 0;
  return () => {
    a = (a + 0x6d2b79f5) >>> 0;
    let t = Math.imul(a ^ (a >>> 15), a | 1);
    t = (t + Math.imul(t ^ (t >>> 7), t | 61)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

export function normal(random: () => number): number {
  return Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
}

export function between(random: () => number, low: number, high: number): number {
  return low + (high - low) * random();
}

export function pick<T>(random: () => number, from: readonly T[]): T {
  return from[Math.floor(random() * from.length)]!;
}

export function locomotive(random: () => number): Built {
  if (random() < 0.15) {
    const inner = between(random, 33, 35) * 12 - 108;
    return { kind: "locomotive", trucks: [2, 2], inside: [108, inner, 108], overhangInches: between(random, 70, 85) };
  }
  const a = between(random, 79, 85);
  const b = between(random, 79, 85);
  return {
    kind: "locomotive",
    trucks: [3, 3],
    inside: [a, b, between(random, 43.5, 49.5) * 12 - a - b, b, a],
    overhangInches: between(random, 55, 75),
  };
}

export function car(random: () => number): Built {
  const wheelbase = random() < 0.6 ? 70 : between(random, 67, 79);
  const roll = random();
  // Truck centres and length over pulling faces, feet.
  const centres = roll < 0.15 ? between(random, 20, 28) : roll < 0.75 ? between(random, 28, 46) : between(random, 46, 68);
  const overhang = centres > 60 ? between(random, 11, 14) : between(random, 5.4, 7.5);
  return {
    kind: "car",
    trucks: [2, 2],
    inside: [wheelbase, centres * 12 - wheelbase, wheelbase],
    overhangInches: overhang * 12 - wheelbase / 2,
  };
}

export function articulated(random: () => number): Built {
  const units = random() < 0.5 ? 3 : 5;
  const middle = between(random, 38, 54) * 12;
  const end = middle + between(random, -12, 24);
  const inside: number[] = [70];
  for (let unit = 0; unit < units; unit++) inside.push((unit === 0 || unit === units - 1 ? end : middle) - 70, 70);
  return { kind: "car", trucks: Array.from({ length: units + 1 }, () => 2), inside, overhangInches: between(random, 38, 55) };
}

/** Vehicles of a train: locomotives ahead (and often mid-train or behind), cars in blocks, some of them articulated. */
export function buildTrain(random: () => number, cars = Math.floor(between(random, 20, 160))): Built[] {
  const train: Built[] = [];
  const engines = (most: number) => {
    const model = locomotive(random);
    const count = 1 + Math.floor(random() * most);
    for (let k = 0; k < count; k++) train.push(random() < 0.7 ? model : locomotive(random));
  };
  engines(3);
  const middle = random() < 0.3 ? Math.floor(cars * between(random, 0.3, 0.7)) : -1;
  const unitTrain = random() < 0.25 ? car(random) : null;
  let made = 0;
  while (made < cars) {
    const block = unitTrain === null ? Math.min(cars - made, 1 + Math.floor(-Math.log(1 - random()) * 5)) : cars - made;
    const model = unitTrain ?? (random() < 0.1 ? articulated(random) : car(random));
    for (let k = 0; k < block; k++) {
      if (made === middle) engines(2);
      train.push(vary(model, random));
      made++;
    }
  }
  if (random() < 0.2) engines(2);
  return train;
}

/** Cars of one model differ a little. */
function vary(model: Built, random: () => number): Built {
  return { ...model, inside: model.inside.map((gap) => gap + 0.4 * normal(random)) };
}

export interface SiteFaults {
  scale: number;
  noiseInches: number;
  /** Chance that an axle is missed, or counted twice. */
  missed: number;
  doubled: number;
}

/** The train as one site measures it. */
export function overSite(train: Built[], faults: SiteFaults, random: () => number): TrainOnSite {
  const gaps: number[] = [];
  const bounds: TrainOnSite["bounds"] = [];
  let owed = 0;
  let overhang = 0;
  for (const vehicle of train) {
    const firstRow = gaps.length;
    let odd = false;
    const lead = overhang + vehicle.overhangInches;
    overhang = vehicle.overhangInches;
    for (const [axle, gap] of [lead, ...vehicle.inside].entries()) {
      const measured = gap * faults.scale + faults.noiseInches * normal(random) + owed;
      owed = 0;
      if (random() < faults.missed) {
        owed = measured;
        odd = true;
        continue;
      }
      gaps.push(gaps.length === 0 ? Number.NaN : measured);
      if (axle >= 0 && random() < faults.doubled) {
        const split = between(random, 3, 25);
        gaps.push(split);
        owed = random() < 0.5 ? -split : 0;
        odd = true;
      }
    }
    bounds.push({ firstRow, rows: gaps.length - firstRow, kind: vehicle.kind, odd });
  }
  return { gapInches: Float32Array.from(gaps, (gap) => Math.round(gap * 100) / 100), axles: gaps.length, bounds };
}
