import { describe, expect, it } from "vitest";
import type { Calibration } from "../../src/bearing/calibration.ts";
import { at, equipment, everywhere, iso, kinds, leg, pass, run, train, watching } from "./watching.ts";

/** A site that was taken from the line, and whatever comes back under its name. */

/** Trains over all five sites, with all that a watch learns of them. */
function learned() {
  const one = watching({ alarms: { untoldMinutes: 30 } });
  for (let k = 0; k < 6; k++) {
    run(one.watch, train(k * 100, everywhere()));
    one.watch.settled({ id: "J", train: null, rosterAxles: 400, legs: [] }, leg(pass("birch-29", k * 100 + 30, { track: "2" }), 0));
    one.beat("birch-29", k * 100, { scanners: { "1/left": { reference: 40 }, "2/left": { reference: 41 } } });
    one.watch.calibration(calibration(k * 100));
    one.watch.refused("birch-29", "FEED-009 wrong-type", at(k * 100));
    one.report(equipment("birch-29", k * 100 + 20, { track: "2", pass: `${k}` }));
    one.watch.tick(at(k * 100 + 99));
  }
  return one;
}

function calibration(minute: number): Calibration {
  const scanner = { site: "birch-29", track: "1", rail: "left" } as const;
  const learnedFrom = { biasF: 4, sdF: 1, trains: 20, effectiveFromMs: at(minute) };
  return { type: "calibration", id: `birch-29/1/left@${minute}`, version: 1, time: iso(minute), ...scanner, ...learnedFrom };
}

/** What of the state is about a site: everything but the record of its conditions. */
function about(watch: ReturnType<typeof watching>["watch"], name: string): string[] {
  const { conditions: _, outOfService: __, tests: ___, ...rest } = watch.state();
  return Object.entries(rest).flatMap(([judge, state]) => (JSON.stringify(state).includes(name) ? [judge] : []));
}

describe("a site that is not on the line any more", () => {
  it("is forgotten by every judge, as a neighbour too", () => {
    const { watch } = learned();
    const known = about(watch, "birch-29");
    expect(known).toEqual(
      expect.arrayContaining([
        "heartbeats",
        "silence",
        "clocks",
        "miscounts",
        "scales",
        "scanners",
        "selfTests",
        "feedQuality",
        "alarmRates",
      ]),
    );
    const others = about(watch, "cedar-41");
    watch.gone("birch-29", "", at(700));
    expect(about(watch, "birch-29")).toEqual([]);
    expect(about(watch, "cedar-41")).toEqual(others);
  });

  it("and of a track alone only that is forgotten", () => {
    const { watch } = learned();
    expect(about(watch, "birch-29/2")).toEqual(expect.arrayContaining(["scanners", "selfTests"]));
    watch.gone("birch-29", "2", at(700));
    expect(about(watch, "birch-29/2")).toEqual([]);
    expect(about(watch, "birch-29/1")).toEqual(expect.arrayContaining(["miscounts", "scales", "scanners", "selfTests"]));
  });

  it("owes no report of a train that was hot there", () => {
    const { watch, out } = watching({ alarms: { untoldMinutes: 5 } });
    const right = new Float32Array(400).fill(30);
    right[186] = 253;
    const hot = pass("birch-29", 10, { bearingRiseF: [new Float32Array(400).fill(31), right] });
    run(watch, { id: "J", train: null, rosterAxles: 400, legs: [leg(hot, 0)] });
    watch.gone("birch-29", "", at(12));
    watch.tick(at(60));
    expect(kinds(out).filter((one) => one.includes("told"))).toEqual([]);
  });
});
