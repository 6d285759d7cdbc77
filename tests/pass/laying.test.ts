import fc from "fast-check";
import { describe, expect, test } from "vitest";
import type { ConsistVehicle } from "../../src/feed/record.ts";
import { lay, MARGIN, SCORE, type Train } from "../../src/pass/laying.ts";
import type { Vehicle } from "../../src/pass/vehicle.ts";
import { between, normal, pick, seeded } from "./train.ts";

const SEED = 20260304;
const LENGTHS_FEET = [53.1, 53.1, 60, 68, 95];
/** Totals are kept as float32: a margin missed or met by less than this may be told either way. */
const NEARLY = 1e-3;

/** A consist, and a train made of it with cars set out, picked up or not known, some tagged, either way round. */
function caseOf(seed: number): { train: Train; consist: ConsistVehicle[] } {
  const random = seeded(seed);
  const consist = Array.from({ length: Math.floor(between(random, 1, 70)) }, (_, k): ConsistVehicle => {
    const length = random() < 0.8 ? { length: pick(random, LENGTHS_FEET) } : {};
    return { id: `QX ${k}`, kind: k < 2 ? "locomotive" : "car", axles: k < 2 ? 6 : pick(random, [4, 4, 4, 4, 8]), ...length };
  });
  const kept = [...consist];
  for (let edits = Math.floor(random() * 5); edits > 0; edits--) {
    const at = Math.floor(random() * kept.length);
    const cars = Math.floor(random() * 12);
    if (random() < 0.5) kept.splice(at, cars);
    else kept.splice(at, 0, ...Array.from({ length: cars }, () => ({ ...pick(random, consist), id: "not known" })));
  }
  if (random() < 0.4) kept.reverse();
  const vehicles = kept.map(({ kind, axles }, k): Vehicle => {
    const missed = random() < 0.02;
    const odd = missed ? { odd: "axle-missed" as const } : {};
    return {
      kind,
      ordinal: k + 1,
      ordinalOfKind: 0,
      firstRow: 0,
      axles: missed ? axles - 1 : axles,
      trucks: [],
      id: null,
      confidence: 1,
      ...odd,
    };
  });
  const lengths = kept.map(({ length }) => ({ feet: (length ?? 60) + normal(random), sdFeet: 1 }));
  const tagged = random() < 0.3;
  const tags = new Map(kept.flatMap(({ id }, k) => (tagged && random() < 0.3 ? [[k, id] as const] : [])));
  return { train: { vehicles, lengths, tags }, consist };
}

function score({ vehicles, lengths, tags }: Train, i: number, named: ConsistVehicle): number {
  const { kind, axles, odd } = vehicles[i]!;
  const apart = Math.abs((kind === "car" ? axles : -axles) - (named.kind === "car" ? named.axles : -named.axles));
  let total = apart === 0 ? SCORE.same : apart === 1 && odd !== undefined ? SCORE.nearly : SCORE.different;
  const { feet, sdFeet } = lengths[i]!;
  if (named.length !== undefined) total += SCORE.length + Math.max(-0.5 * ((feet - named.length) / sdFeet) ** 2, SCORE.lengthOff);
  const tag = tags.get(i);
  return tag === undefined ? total : total + (tag === named.id ? SCORE.tagSame : SCORE.tagDifferent);
}

/** Best totals of laying what lies ahead of each cell of the whole square. */
function square(rows: number, columns: number, pair: (i: number, j: number) => number): number[][] {
  const best = Array.from({ length: rows + 1 }, () => new Array<number>(columns + 1).fill(0));
  for (let i = 0; i <= rows; i++) {
    for (let j = 0; j <= columns; j++) {
      if (i + j === 0) continue;
      const leftOut = Math.max(i > 0 ? best[i - 1]![j]! : -Infinity, j > 0 ? best[i]![j - 1]! : -Infinity) + SCORE.left;
      best[i]![j] = i > 0 && j > 0 ? Math.max(leftOut, best[i - 1]![j - 1]! + pair(i - 1, j - 1)) : leftOut;
    }
  }
  return best;
}

/** For each vehicle by how much its best place beats every other way, that place, and the best total of all. */
function whole(train: Train, order: ConsistVehicle[]) {
  const [n, m] = [train.vehicles.length, order.length];
  const head = square(n, m, (i, j) => score(train, i, order[j]!));
  const tail = square(n, m, (i, j) => score(train, n - 1 - i, order[m - 1 - j]!));
  const places = train.vehicles.map((_, i) => {
    const ways = order.map((named, j) => ({ j, total: head[i]![j]! + score(train, i, named) + tail[n - i - 1]![m - j - 1]! }));
    const out = Array.from({ length: m + 1 }, (_, j) => ({ j: -1, total: head[i]![j]! + SCORE.left + tail[n - i - 1]![m - j]! }));
    const [first, second] = [...ways, ...out].sort((a, b) => b.total - a.total);
    const fits = first!.j >= 0 && score(train, i, order[first!.j]!) > 0;
    return { place: fits ? first!.j : -1, lead: first!.total - (second?.total ?? -Infinity) };
  });
  return { total: head[n]![m]!, places };
}

describe("laying a consist in a band about the straight laying", () => {
  test("places the very vehicles that the whole square would, and no other", () => {
    const compared = { placed: 0, contested: 0 };
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 1e6 }), (seed) => {
        const { train, consist } = caseOf(seed);
        const backward = [...consist].reverse();
        const laid = lay(train, consist, backward);
        const [ahead, astern] = [whole(train, consist), whole(train, backward)];
        if (Math.abs(ahead.total - astern.total) < NEARLY) return;
        expect(laid.backward).toBe(astern.total > ahead.total);
        (laid.backward ? astern : ahead).places.forEach(({ place, lead }, i) => {
          if (Math.abs(lead - MARGIN) < NEARLY) return;
          const expected = lead > MARGIN ? place : -1;
          expect(laid.placeOf[i]).toBe(expected);
          if (expected < 0) compared.contested++;
          else compared.placed++;
        });
      }),
      { seed: SEED, numRuns: 60 },
    );
    expect(compared.placed).toBeGreaterThan(500);
    expect(compared.contested).toBeGreaterThan(300);
  });

  test("finds its way where half of a long train was set out at the head and as much picked up at the tail", () => {
    const consist = Array.from(
      { length: 120 },
      (_, k): ConsistVehicle => ({ id: `QX ${k}`, kind: "car", axles: 4, length: 45 + 3 * ((k * 37) % 121) }),
    );
    const strangers = Array.from({ length: 60 }, (): ConsistVehicle => ({ id: "not known", kind: "car", axles: 8, length: 200 }));
    const kept = [...consist.slice(60), ...strangers];
    const vehicles = kept.map(
      ({ kind, axles }, k): Vehicle => ({
        kind,
        ordinal: k + 1,
        ordinalOfKind: k + 1,
        firstRow: 0,
        axles,
        trucks: [],
        id: null,
        confidence: 1,
      }),
    );
    const lengths = kept.map(({ length }) => ({ feet: length!, sdFeet: 1 }));
    const { placeOf, backward } = lay({ vehicles, lengths, tags: new Map() }, consist, [...consist].reverse());
    expect(backward).toBe(false);
    expect(Array.from(placeOf)).toEqual([...Array.from({ length: 60 }, (_, k) => 60 + k), ...new Array<number>(60).fill(-1)]);
  });
});
