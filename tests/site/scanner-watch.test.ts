import { describe, expect, it } from "vitest";
import { stream } from "../../src/simulate/random.ts";
import { at, everywhere, kinds, run, type Seen, SITES, train, type Watching, watching } from "./watching.ts";

const HOUR = 60;
const random = stream(3, "scanner-watch");

interface Off {
  /** Added to what cedar-41 reads on [left, right], °F. */
  addF?: [number, number];
  /** Share of the rise that it sees. */
  sees?: [number, number];
  spread?: [number, number];
  doubts?: [string[], string[]];
  ambientF?: number;
}

/** A train whose sides read the same everywhere, give or take, but for what ails the middle site. */
function oneTrain(begins: number, off: Off, noiseF = 2): ReturnType<typeof train> {
  const warmth = 28 + 4 * random.normal();
  const seen = everywhere();
  for (const site of SITES) {
    const reads = (): number => warmth + noiseF * random.normal();
    const one: Seen & { pass?: object } = { medianF: [reads(), reads()] };
    if (site === "cedar-41") {
      const { addF = [0, 0], sees = [1, 1], spread = [1, 1], doubts, ambientF = 54 } = off;
      one.medianF = [one.medianF![0] * sees[0] + addF[0], one.medianF![1] * sees[1] + addF[1]];
      // What is seen less of lies closer together; the scanner's own noise stays.
      const spreadOf = (rail: 0 | 1) => spread[rail] * Math.hypot(6 * sees[rail], 3.5);
      one.spreadF = [spreadOf(0), spreadOf(1)];
      if (doubts !== undefined) one.doubts = doubts;
      one.pass = { ambientF };
    } else one.spreadF = [7 * Math.exp(0.1 * random.normal()), 7 * Math.exp(0.1 * random.normal())];
    seen[site] = one;
  }
  return train(begins, seen);
}

/** Trains an hour apart, from `from` to `to`, each with what ails the site at its time. */
function runs(watched: Watching, from: number, to: number, off: (hour: number) => Off): void {
  for (let hour = from; hour < to; hour++) run(watched.watch, oneTrain(hour * HOUR, off(hour)));
}

const scannersOf = (watched: Watching) => kinds(watched.out).filter((one) => !one.includes("test-due"));

describe("bearing scanners against their neighbours", () => {
  it("a thousand trains over sound scanners raise nothing", () => {
    const watched = watching();
    runs(watched, 0, 1_000, () => ({}));
    expect(kinds(watched.out)).toEqual([]);
  });

  it("a scanner with a small bias of its own is not called drifting", () => {
    const watched = watching();
    runs(watched, 0, 300, () => ({ addF: [6, -6] }));
    expect(kinds(watched.out)).toEqual([]);
  });

  it.each([-20, -14])("one that reads %d °F too low drifts within a day of trains, and a test is asked for", (addF) => {
    const watched = watching();
    runs(watched, 0, 20, () => ({}));
    runs(watched, 20, 44, () => ({ addF: [addF, 0] }));
    expect(kinds(watched.out).slice(0, 2)).toEqual(["cedar-41/1/left drift raised", "cedar-41/1 test-due raised"]);
    expect(watched.out[0]?.words).toContain("too low");
    runs(watched, 44, 80, () => ({}));
    expect(scannersOf(watched)).toEqual(["cedar-41/1/left drift raised", "cedar-41/1/left drift cleared"]);
  });

  it("one that reads too high drifts once it has lasted longer than the sun", () => {
    const watched = watching();
    runs(watched, 0, 20, () => ({}));
    runs(watched, 20, 24, () => ({ addF: [0, 18] }));
    expect(kinds(watched.out)).toEqual([]);
    runs(watched, 24, 32, () => ({ addF: [0, 18] }));
    expect(scannersOf(watched)).toEqual(["cedar-41/1/right drift raised"]);
  });

  it("a side that is warm at the same hours on several days is in the sun: told as no fault, and never as a drift", () => {
    const watched = watching();
    runs(watched, 0, 24 * 6, (hour) => (hour % 24 >= 18 && hour % 24 < 22 ? { addF: [0, 15] } : {}));
    expect(kinds(watched.out)).toEqual(["cedar-41/1/right sun raised"]);
    expect(watched.out[0]).toMatchObject({ priority: "information", alarm: "acknowledged" });
    expect(watched.out[0]?.words).toContain("No fault");
    runs(watched, 24 * 6, 24 * 12, () => ({}));
    expect(kinds(watched.out)).toEqual(["cedar-41/1/right sun raised", "cedar-41/1/right sun cleared"]);
  });

  it("one that sees next to nothing is cold after a few trains, and no longer when it sees again", () => {
    const watched = watching();
    runs(watched, 0, 20, () => ({}));
    runs(watched, 20, 26, () => ({ sees: [0.06, 1] }));
    expect(scannersOf(watched)).toEqual(["cedar-41/1/left cold-scanner raised"]);
    runs(watched, 26, 40, () => ({}));
    expect(scannersOf(watched)).toEqual(["cedar-41/1/left cold-scanner raised", "cedar-41/1/left cold-scanner cleared"]);
  });

  it("one that sends no readings is blind", () => {
    const watched = watching();
    runs(watched, 0, 20, () => ({}));
    runs(watched, 20, 26, () => ({ doubts: [[], ["no-readings"]] }));
    expect(scannersOf(watched)).toEqual(["cedar-41/1/right blind-scanner raised"]);
    runs(watched, 26, 40, () => ({}));
    expect(scannersOf(watched)).toContain("cedar-41/1/right blind-scanner cleared");
  });

  it("one that scatters twice as much as its neighbours is noisy", () => {
    const watched = watching();
    runs(watched, 0, 20, () => ({}));
    runs(watched, 20, 40, () => ({ spread: [1, 2] }));
    expect(scannersOf(watched)).toEqual(["cedar-41/1/right noisy-scanner raised"]);
    runs(watched, 40, 80, () => ({}));
    expect(scannersOf(watched)).toEqual(["cedar-41/1/right noisy-scanner raised", "cedar-41/1/right noisy-scanner cleared"]);
  });

  it("both scanners of a track suddenly low in frost are under snow or ice", () => {
    const watched = watching();
    runs(watched, 0, 20, () => ({ ambientF: 20 }));
    runs(watched, 20, 30, () => ({ sees: [0.4, 0.4], ambientF: 20 }));
    expect(scannersOf(watched)).toEqual(["cedar-41/1 snow raised"]);
    runs(watched, 30, 60, () => ({ ambientF: 20 }));
    expect(scannersOf(watched)).toEqual(["cedar-41/1 snow raised", "cedar-41/1 snow cleared"]);
  });

  it("both low in summer are no snow", () => {
    const watched = watching();
    runs(watched, 0, 20, () => ({ ambientF: 80 }));
    runs(watched, 20, 40, () => ({ sees: [0.4, 0.4], ambientF: 80 }));
    expect(kinds(watched.out).some((one) => one.includes("snow"))).toBe(false);
    expect(scannersOf(watched).length).toBeGreaterThan(0);
  });

  it("a rail that sent nothing is blind, whatever the middle of its side is guessed to be: it does not drift", () => {
    const watched = watching();
    runs(watched, 0, 20, () => ({}));
    runs(watched, 20, 60, () => ({ addF: [0, 20], doubts: [[], ["no-readings"]] }));
    expect(scannersOf(watched).filter((one) => one.includes("drift"))).toEqual([]);
  });

  it("at the end of the line, where both sites compared with lie on one side, a scanner must be off by all of a drift", () => {
    const watched = watching();
    for (let k = 0; k < 150; k++) {
      const seen = everywhere();
      for (const site of SITES)
        seen[site] = { medianF: [30 + 2 * random.normal(), 30 + 2 * random.normal() - (site === "elm-69" ? 12 : 0)] };
      run(watched.watch, train(k * HOUR, seen));
    }
    expect(kinds(watched.out)).toEqual([]);
  });

  it("a neighbour is not blamed for the scanner that is wrong", () => {
    const watched = watching();
    runs(watched, 0, 20, () => ({}));
    runs(watched, 20, 80, () => ({ addF: [-25, 0] }));
    expect(new Set(watched.out.map(({ site }) => site))).toEqual(new Set(["cedar-41"]));
  });

  it("a learned bias is told when it was large for hours on end, and taken back only when it is small", () => {
    const watched = watching();
    const learned = (hour: number, biasF: number) =>
      watched.watch.calibration({
        type: "calibration",
        version: 1,
        id: `x${hour}`,
        time: new Date(at(hour * HOUR)).toISOString(),
        site: "cedar-41",
        track: "1",
        rail: "right",
        biasF,
        sdF: 1,
        trains: 20,
        effectiveFromMs: 0,
      });
    [-12.5, -13.5, -14, -14, -14].forEach((biasF, hour) => {
      expect(kinds(watched.out)).toEqual([]);
      learned(hour, biasF);
    });
    expect(kinds(watched.out)).toEqual(["cedar-41/1/right drift raised"]);
    [-10, -9, -8, -7.1].forEach((biasF, hour) => {
      learned(6 + hour, biasF);
    });
    expect(kinds(watched.out)).toEqual(["cedar-41/1/right drift raised", "cedar-41/1/right drift cleared"]);
  });

  it("one hour with a wild bias is no drift", () => {
    const watched = watching();
    for (let hour = 0; hour < 20; hour++) {
      const biasF = hour === 9 ? 30 : 2;
      watched.watch.calibration({
        type: "calibration",
        version: 1,
        id: `x${hour}`,
        time: new Date(at(hour * HOUR)).toISOString(),
        site: "cedar-41",
        track: "1",
        rail: "right",
        biasF,
        sdF: 1,
        trains: 20,
        effectiveFromMs: 0,
      });
    }
    expect(kinds(watched.out)).toEqual([]);
  });
});

describe("self-test references", () => {
  const beats = (watched: Watching, from: number, to: number, reference: (k: number) => number | null) => {
    for (let k = from; k < to; k++)
      watched.beat("cedar-41", k * 5, {
        scanners: { "1/left": { reference: reference(k) }, "1/right": { reference: 150 + random.normal() } },
      });
  };

  it("that fall off again and again are told, odd ones are not", () => {
    const watched = watching();
    beats(watched, 0, 400, (k) => (k % 97 === 50 ? 96 : 150 + random.normal()));
    expect(kinds(watched.out)).toEqual([]);
    beats(watched, 400, 430, (k) => (k % 3 === 0 ? 96 : 150 + random.normal()));
    expect(kinds(watched.out)).toEqual(["cedar-41/1/left self-test raised"]);
    beats(watched, 430, 450, () => 150 + random.normal());
    expect(kinds(watched.out)).toEqual(["cedar-41/1/left self-test raised", "cedar-41/1/left self-test cleared"]);
  });

  it("that are missing are as telling as wrong ones", () => {
    const watched = watching();
    beats(watched, 0, 40, () => 150 + random.normal());
    beats(watched, 40, 50, () => null);
    expect(kinds(watched.out)).toEqual(["cedar-41/1/left self-test raised"]);
  });
});
