import { describe, expect, test } from "vitest";
import { Biases } from "../../src/bearing/biases.ts";
import { Calibrator } from "../../src/bearing/calibrate.ts";
import type { Calibration } from "../../src/bearing/calibration.ts";
import { solvePositive } from "../../src/bearing/cholesky.ts";
import type { Journey, Leg } from "../../src/journey/journey.ts";
import { normalOf, randomOf } from "./curves.ts";
import { legOf, passOf } from "./passes.ts";

const HOUR_MS = 3_600_000;
const LATENESS_MS = 2 * HOUR_MS;
const SITES = ["alder-14", "birch-27", "cedar-41", "dogwood-53", "elder-68", "fir-80", "gorse-95"];

interface Step {
  journey: Journey;
  leg: Leg;
}

/** A day's traffic over seven sites, both ways, with biases of each scanner; legs in event-time order. */
function dayOf(biasOf: (site: number) => [number, number], trains: number, seed: number): Step[] {
  const random = randomOf(seed);
  const steps: Step[] = [];
  for (let t = 0; t < trains; t++) {
    const forward = random() < 0.5;
    const startMs = random() * 22 * HOUR_MS;
    const journey: Journey = { id: `j${t}`, train: null, rosterAxles: 60, legs: [] };
    let warmth = 26 + 6 * normalOf(random);
    for (let i = 0; i < SITES.length; i++) {
      const at = forward ? i : SITES.length - 1 - i;
      warmth += 3 * normalOf(random);
      const pass = passOf({
        axles: 60,
        site: SITES[at]!,
        medianF: warmth - (i === 0 ? 6 : 0),
        seed: Math.floor(random() * 1e9),
        direction: forward ? "rising" : "falling",
        begunMs: startMs + i * 0.33 * HOUR_MS,
        biasF: biasOf(at),
      });
      const leg = legOf(pass, i * 14);
      steps.push({ journey: { ...journey, legs: [...journey.legs, leg] }, leg });
      journey.legs.push(leg);
    }
  }
  return steps.sort((a, b) => a.leg.pass.endedMs - b.leg.pass.endedMs);
}

function learn(steps: Step[], calibrator = new Calibrator(LATENESS_MS)): Calibration[] {
  for (const { journey, leg } of steps) calibrator.learn(journey, leg);
  return calibrator.due(30 * HOUR_MS);
}

const sick: [number, number] = [20, 0];
const biasOf = (site: number): [number, number] => (site === 3 ? sick : [3 * Math.sin(site), -3 * Math.cos(2 * site)]);

describe("one day's ordinary traffic teaches the scanners' biases", () => {
  const records = learn(dayOf(biasOf, 45, 5));
  const biases = new Biases();
  for (const record of records) biases.add(record);
  const errors = SITES.map((site, i) =>
    (["left", "right"] as const).map((rail, r) => biases.at(site, "1", rail, 40 * HOUR_MS).biasF - biasOf(i)[r]!),
  );

  test("within 2 °F at the median, and the sick scanner within 5 °F", () => {
    const sorted = errors
      .flat()
      .map(Math.abs)
      .sort((a, b) => a - b);
    expect(sorted[sorted.length >> 1]).toBeLessThan(2);
    expect(Math.abs(errors[3]![0]!)).toBeLessThan(5);
    expect(Math.abs(errors[3]![1]!)).toBeLessThan(5);
  });

  test("they come into force when no late pass can change them any more", () => {
    for (const record of records) {
      expect(record.effectiveFromMs % HOUR_MS).toBe(0);
      expect(record.effectiveFromMs).toBeGreaterThanOrEqual(Date.parse(record.time) + LATENESS_MS);
    }
    expect(new Set(records.map((record) => record.id)).size).toBe(records.length);
    expect(biases.at("alder-14", "1", "left", 0)).toEqual({ biasF: 0, sdF: 6 });
  });

  test("when they are asked for changes nothing, and handed out once is handed out once", () => {
    const steps = dayOf(biasOf, 45, 5);
    const calibrator = new Calibrator(LATENESS_MS);
    const often: Calibration[] = [];
    for (const { journey, leg } of steps) {
      calibrator.learn(journey, leg);
      often.push(...calibrator.due(leg.pass.endedMs - LATENESS_MS));
    }
    often.push(...calibrator.due(30 * HOUR_MS));
    expect(often).toEqual(records);
    expect(calibrator.due(30 * HOUR_MS)).toEqual([]);
  });

  test("who starts again from the published records goes on to the same bytes", () => {
    const steps = dayOf(biasOf, 45, 5);
    const cutMs = 12 * HOUR_MS;
    const again = new Calibrator(LATENESS_MS);
    for (const record of records) if (record.effectiveFromMs - LATENESS_MS <= cutMs) again.adopt(record);
    const rest = learn(
      steps.filter(({ leg }) => leg.pass.endedMs >= cutMs),
      again,
    );
    expect(rest).toEqual(records.filter((record) => record.effectiveFromMs - LATENESS_MS > cutMs));
  });
});

test("a spell in which a scanner sees nothing teaches no bias", () => {
  const steps = dayOf(biasOf, 45, 5);
  const blind = steps.map(({ journey, leg }) => {
    if (leg.pass.site !== SITES[1] || leg.pass.begunMs < 8 * HOUR_MS || leg.pass.begunMs > 14 * HOUR_MS) return { journey, leg };
    const pass = { ...leg.pass, bearingRiseF: [...leg.pass.bearingRiseF] as [Float32Array, Float32Array] };
    const noise = randomOf(pass.begunMs);
    pass.bearingRiseF[0] = pass.bearingRiseF[0].map((riseF) => 0.06 * riseF + 3.5 * normalOf(noise));
    const cold = legOf(pass, leg.miles);
    return { journey: { ...journey, legs: journey.legs.map((one) => (one === leg ? cold : one)) }, leg: cold };
  });
  const newest = (records: Calibration[]) => records.findLast(({ site, rail }) => site === SITES[1] && rail === "left")!.biasF;
  expect(Math.abs(newest(learn(blind)) - newest(learn(steps)))).toBeLessThan(2);
});

describe("calibrations in force", () => {
  const record = (biasF: number, effectiveFromMs: number): Calibration => ({
    type: "calibration",
    id: `alder-14/1/left@${effectiveFromMs}`,
    version: 1,
    time: "",
    site: "alder-14",
    track: "1",
    rail: "left",
    biasF,
    sdF: 1,
    trains: 1,
    effectiveFromMs,
  });

  test("the latest one effective by then; the order of adding and repeats change nothing", () => {
    for (const order of [
      [record(1, 10), record(2, 20), record(3, 30)],
      [record(3, 30), record(1, 10), record(1, 10), record(2, 20)],
    ]) {
      const biases = new Biases();
      for (const one of order) biases.add(one);
      expect([5, 10, 19, 20, 99].map((time) => biases.at("alder-14", "1", "left", time).biasF)).toEqual([0, 1, 1, 2, 3]);
      expect(biases.latest()).toHaveLength(1);
    }
  });

  test("history is bounded: the oldest are forgotten first", () => {
    const biases = new Biases();
    for (let hour = 1; hour <= 500; hour++) biases.add(record(hour, hour));
    expect(biases.at("alder-14", "1", "left", 500).biasF).toBe(500);
    expect(biases.at("alder-14", "1", "left", 1).biasF).toBe(0);
  });
});

test("a positive definite system is solved, and its inverse's diagonal given", () => {
  // Worked by hand: [4 2; 2 3] x = [2; 5], inverse [3 -2; -2 4] / 8.
  const { x, varianceOf, varianceOfMean } = solvePositive(Float64Array.of(4, 2, 2, 3), Float64Array.of(2, 5), 2);
  expect(Array.from(x)).toEqual([expect.closeTo(-0.5, 12), expect.closeTo(2, 12)]);
  expect(varianceOf(0)).toBeCloseTo(3 / 8, 12);
  expect(varianceOf(1)).toBeCloseTo(0.5, 12);
  // (3 - 2 * 2 + 4) / 8, a quarter of it; in either order.
  expect(varianceOfMean(0, 1)).toBeCloseTo(3 / 32, 12);
  expect(varianceOfMean(1, 0)).toBeCloseTo(3 / 32, 12);
  expect(() => solvePositive(Float64Array.of(1, 2, 2, 1), Float64Array.of(1, 1), 2)).toThrow("not positive definite");
});
