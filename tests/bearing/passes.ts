import { Biases } from "../../src/bearing/biases.ts";
import { level } from "../../src/bearing/level.ts";
import type { Journey, Leg } from "../../src/journey/journey.ts";
import type { Direction } from "../../src/line/railroad.ts";
import type { Pass } from "../../src/pass/pass.ts";
import type { Vehicle } from "../../src/pass/vehicle.ts";
import { normalOf, randomOf } from "./curves.ts";

/** Invented passes of an invented train, all of four-axle cars behind `locomotives` six-axle locomotives. */
export interface TrainOf {
  axles: number;
  locomotives?: number;
  site?: string;
  medianF?: number;
  spreadF?: number;
  seed?: number;
  direction?: Direction;
  begunMs?: number;
  /** Added to all readings of the left and right rail. */
  biasF?: [number, number];
}

export function passOf(train: TrainOf): Pass {
  const { axles, locomotives = 0, site = "alder-14", medianF = 28, spreadF = 6, seed = 1, direction = "rising", begunMs = 0 } = train;
  const random = randomOf(seed);
  const bias = train.biasF ?? [0, 0];
  const column = (rail: 0 | 1): Float32Array =>
    Float32Array.from({ length: axles }, (_, row) => {
      const hotter = row < locomotives * 6 ? 18 : 0;
      return Math.round((medianF + hotter + spreadF * normalOf(random) + bias[rail]) * 100) / 100;
    });
  const vehicles: Vehicle[] = [];
  const vehicleOfAxle = new Int16Array(axles).fill(-1);
  for (let row = 0; row < axles; ) {
    const isLocomotive = vehicles.length < locomotives;
    const count = Math.min(isLocomotive ? 6 : 4, axles - row);
    vehicleOfAxle.fill(vehicles.length, row, row + count);
    vehicles.push({
      kind: isLocomotive ? "locomotive" : "car",
      ordinal: vehicles.length + 1,
      ordinalOfKind: isLocomotive ? vehicles.length + 1 : vehicles.length + 1 - locomotives,
      firstRow: row,
      axles: count,
      trucks: isLocomotive ? [3, 3] : [2, 2],
      id: null,
      confidence: 1,
    });
    row += count;
  }
  const bearingRiseF: [Float32Array, Float32Array] = [column(0), column(1)];
  return {
    id: `${site}/1/${seed}@${begunMs}`,
    site,
    track: "1",
    pass: String(seed),
    direction,
    begunMs,
    endedMs: begunMs + axles * 150,
    ambientF: 50,
    train: null,
    axles,
    axlesSaid: axles,
    ms: Float64Array.from({ length: axles }, (_, row) => row * 150),
    gapInches: new Float32Array(axles).fill(70),
    speedMph: new Float32Array(axles).fill(45),
    bearingRiseF,
    wheelRiseF: [new Float32Array(axles).fill(75), new Float32Array(axles).fill(75)],
    tags: new Map(),
    flags: [],
    vehicles,
    vehicleOfAxle,
  };
}

export function legOf(pass: Pass, miles: number, flipped = false): Leg {
  const rosterOfRow = Int32Array.from({ length: pass.axles }, (_, row) => (flipped ? pass.axles - 1 - row : row));
  const levels = level(pass, new Biases());
  return { pass, miles, direction: pass.direction, directionDoubted: false, flipped, rosterOfRow, join: null, levels };
}

export function journeyOf(legs: Leg[]): Journey {
  return { id: "journey", train: null, rosterAxles: legs[0]!.pass.axles, legs };
}
