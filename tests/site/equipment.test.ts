import { describe, expect, it } from "vitest";
import { numberVehicles, type Vehicle } from "../../src/pass/vehicle.ts";
import { at, equipment, everywhere, iso, kinds, leg, pass, run, train, watching } from "./watching.ts";

/** 100 cars of four axles. */
function cars(): { vehicles: Vehicle[]; vehicleOfAxle: Int16Array } {
  const vehicles: Vehicle[] = Array.from({ length: 100 }, (_, k) => ({
    kind: "car",
    ordinal: 0,
    ordinalOfKind: 0,
    firstRow: k * 4,
    axles: 4,
    trucks: [2, 2],
    id: k === 46 ? "QX 100123" : null,
    confidence: 0.99,
  }));
  numberVehicles(vehicles);
  return { vehicles, vehicleOfAxle: Int16Array.from({ length: 400 }, (_, row) => row >> 2) };
}

/** A journey of one pass with one hot bearing: axle 187, right rail. */
function hotTrain(minute: number, readF: number, direction: "rising" | "falling" = "rising") {
  const right = new Float32Array(400).fill(30);
  right[186] = readF;
  const one = pass("birch-29", minute, { direction, bearingRiseF: [new Float32Array(400).fill(31), right], ...cars() });
  return { id: "J", train: null, rosterAxles: 400, legs: [leg(one, 0)] };
}

describe("a site's own reports", () => {
  it("are joined with the pass: which vehicle, which side in the direction of travel, and whether our reading agrees", () => {
    const { watch, equipment: seen, report } = watching();
    run(watch, hotTrain(10, 198, "falling"));
    report(equipment("birch-29", 10));
    expect(seen).toMatchObject([
      {
        kind: "hot-bearing",
        axle: 187,
        rail: "right",
        side: "left",
        vehicle: { kind: "car", ordinalOfKind: 47, axleInVehicle: 3, id: "QX 100123" },
        reportedF: 200,
        oursF: 198,
        agrees: true,
        announced: true,
      },
    ]);
    expect(seen[0]?.words).toContain("axle 3 of car 47 from the head (QX 100123), left side");
  });

  it("that come before their pass wait for it", () => {
    const { watch, equipment: seen, report } = watching();
    report(equipment("birch-29", 10));
    expect(seen).toEqual([]);
    run(watch, hotTrain(10, 198));
    expect(seen.map(({ oursF, agrees }) => [oursF, agrees])).toEqual([[198, true]]);
  });

  it("that come twice are told once", () => {
    const { watch, equipment: seen, report } = watching();
    run(watch, hotTrain(10, 198));
    report(equipment("birch-29", 10));
    report(equipment("birch-29", 10));
    expect(seen.length).toBe(1);
  });

  it("that our reading of the same axle contradicts are a condition of the scanner", () => {
    const { watch, out, equipment: seen, report } = watching();
    run(watch, hotTrain(10, 60));
    report(equipment("birch-29", 10));
    expect(seen[0]?.agrees).toBe(false);
    expect(kinds(out)).toEqual(["birch-29/1/right report-disagrees raised"]);
  });

  it("that were not announced to the crew are said at once, until one is announced again", () => {
    const { out, report } = watching();
    report(equipment("birch-29", 10, { announced: false }));
    expect(kinds(out)).toEqual(["birch-29/1 not-announced raised"]);
    expect(out[0]?.priority).toBe("high");
    report(equipment("birch-29", 90));
    expect(kinds(out)).toEqual(["birch-29/1 not-announced raised", "birch-29/1 not-announced cleared"]);
  });

  it("of a hot wheel alone need no announcement: they stop no train by themselves", () => {
    const { out, report } = watching();
    report(equipment("birch-29", 10, { kind: "hot-wheel", announced: false, value: 620 }));
    expect(out).toEqual([]);
  });

  it("that come too late have not told the desk in time", () => {
    const { out, report } = watching({ alarms: { untoldMinutes: 5 } });
    report(equipment("birch-29", 10), at(15));
    expect(out).toEqual([]);
    report(equipment("birch-29", 30), at(40));
    expect(kinds(out)).toEqual(["birch-29/1 desk-not-told raised"]);
  });

  it("that never come for a bearing at the limit have not told the desk either (NTSB RRD23FR011: the site transmitted, nobody was alerted)", () => {
    const { watch, out } = watching({ alarms: { untoldMinutes: 5 } });
    run(watch, hotTrain(10, 253));
    watch.tick(at(14));
    expect(kinds(out).filter((one) => one.includes("told"))).toEqual([]);
    watch.tick(at(17));
    expect(kinds(out).filter((one) => one.includes("told"))).toEqual(["birch-29/1 desk-not-told raised"]);
    expect(out.find(({ kind }) => kind === "desk-not-told")?.words).toContain("axle 187");
  });

  it("that may still be unread in another partition are not owed, and nobody can say how late they came", () => {
    const { watch, out, equipment: seen, report } = watching({ alarms: { untoldMinutes: 5 } });
    watch.isTimed = false;
    run(watch, hotTrain(10, 253));
    watch.tick(at(60));
    report(equipment("birch-29", 10, { value: 253 }), at(70));
    watch.tick(at(80));
    expect(kinds(out)).toEqual([]);
    expect(seen.map(({ agrees, toldAfterS }) => [agrees, toldAfterS])).toEqual([[true, null]]);
  });

  it("that come in time leave nothing to say", () => {
    const { watch, out, report } = watching();
    run(watch, hotTrain(10, 253));
    report(equipment("birch-29", 10, { value: 253 }));
    watch.tick(at(60));
    expect(kinds(out).filter((one) => !one.includes("test"))).toEqual([]);
  });

  it("of dragging equipment at one site and none at the next, and the reverse, are told apart", () => {
    const dragging = (site: string, minute: number) => equipment(site, minute, { kind: "dragging", side: null, value: null, axle: 40 });
    const story = (sites: readonly string[]) => {
      const { watch, equipment: seen, report } = watching();
      run(watch, train(0, everywhere()));
      ["alder-14", "birch-29", "cedar-41", "dell-55", "elm-69"].forEach((site, k) => {
        if (sites.includes(site)) report(dragging(site, k * 18));
      });
      watch.tick(at(120));
      return seen.filter(({ version }) => version > 1).map(({ site, dragging: what }) => `${site} ${what}`);
    };
    expect(story(["birch-29"])).toEqual(["birch-29 began-here", "birch-29 gone-at-next"]);
    expect(story(["dell-55", "elm-69"])).toEqual(["dell-55 began-here", "elm-69 again"]);
    expect(story(["alder-14"])).toEqual(["alder-14 gone-at-next"]);
  });

  it("of two trains at once on two tracks, one after the other and again, are alarms of two passes", () => {
    const { watch, report } = watching();
    for (const [track, pass] of [
      ["1", "7"],
      ["2", "8"],
      ["1", "7"],
      ["2", "8"],
    ] as const)
      report(equipment("birch-29", 10, { track, pass }));
    expect(watch.state().alarmRates["birch-29"]?.alarms).toBe(2);
  });

  it("far more often than elsewhere, or never, are conditions of the site", () => {
    const alarms = (perPass: (site: string, k: number) => boolean) => {
      const { watch, out, report } = watching({ alarms: { untoldMinutes: 10_000 } });
      for (let k = 0; k < 700; k++) {
        run(watch, train(k * 100, everywhere()));
        for (const site of ["alder-14", "birch-29", "cedar-41", "dell-55", "elm-69"])
          if (perPass(site, k)) report(equipment(site, k * 100, { pass: `${k}` }));
        watch.tick(at(k * 100 + 99));
      }
      return new Set(kinds(out).filter((one) => one.includes("alarms")));
    };
    expect(alarms((site, k) => k % 10 === 0 && site !== "cedar-41")).toEqual(new Set(["cedar-41 never-alarms raised"]));
    expect(alarms((site, k) => k % (site === "cedar-41" ? 2 : 40) === 0)).toEqual(new Set(["cedar-41 alarms-often raised"]));
    expect(alarms((_, k) => k % 10 === 0)).toEqual(new Set());
    expect(iso(0)).toBe("2026-03-04T00:00:00.000Z");
  });
});
