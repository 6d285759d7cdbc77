import { describe, expect, it } from "vitest";
import { type PublishedPass, publishedLine, publishedTrain, saidAfterEach } from "./published-train.ts";

/**
 * NTSB investigation RRD23FR011 (page [P], preliminary report [S]): 213 cars, 1 locomotive ahead and 2 in the train; 253 °F
 * above ambient at milepost 91.9 on axle 671, 164th car; derailed at milepost 76.56. The wheel transducers had been refitted
 * the wrong way round, so the site reported the train in the opposite direction and the desk was not alerted.
 */
const HOT_AXLE = 671;
const SITE = { id: "reversed", milepost: 91.9 };
/** The sites beside it are not told in what could be read: places, readings and speeds there are assumptions. */
const SITES = [{ id: "before", milepost: 107.4 }, SITE, { id: "after", milepost: 76 }];
/** Both mid-train locomotives stand ahead of car 164 [D]: 18 locomotive axles + 163 cars x 4 + 1 = 671. Where exactly is an assumption. */
const train = publishedTrain(2, 213, 1, [80, 81]);
const railroad = publishedLine(SITES);

const MPH = 45;
const startMs = Date.parse("2026-03-09T10:00:00.000Z");

function passAt(site: { id: string; milepost: number }, reported: "rising" | "falling", riseF: number): PublishedPass {
  return {
    site: site.id,
    pass: site.id,
    beganMs: startMs + ((107.4 - site.milepost) / MPH) * 3_600_000,
    mph: MPH,
    reported,
    ran: "falling",
    ambientF: 40,
    hot: { row: HOT_AXLE - 1, side: 1, riseF },
  };
}

describe("the train of RRD23FR011, reported in the wrong direction by one site", () => {
  const [before, reversed, after] = SITES as [(typeof SITES)[0], (typeof SITES)[0], (typeof SITES)[0]];
  const said = saidAfterEach(railroad, train, [
    passAt(before, "falling", 45),
    passAt(reversed, "rising", 253),
    passAt(after, "falling", 30),
  ]);

  it("has 870 axles, and axle 671 is the first axle of car 164 [D]", () => {
    expect(train.gaps).toHaveLength(870);
    const pass = said[1]?.passes[1];
    const vehicle = pass?.vehicles[pass.vehicleOfAxle[HOT_AXLE - 1] ?? -1];
    expect(vehicle).toMatchObject({ kind: "car", ordinalOfKind: 164, firstRow: HOT_AXLE - 1 });
  });

  it("the limit still goes out, for car 164 and the side in the true direction of travel", () => {
    const limit = said[1]?.warnings.find((warning) => warning.level === "limit");
    expect(limit).toMatchObject({ site: "reversed", axle: HOT_AXLE, side: "right", riseF: 253, direction: "falling" });
    expect(limit?.vehicle).toMatchObject({ kind: "car", ordinalOfKind: 164, axleInVehicle: 1 });
  });

  it("a condition of the site is raised with the first contradicted train", () => {
    const condition = said[1]?.conditions.find((one) => one.kind === "direction");
    expect(condition).toMatchObject({ site: "reversed", device: "1", state: "raised" });
    expect(condition?.words).toContain("wrong direction");
  });

  it("nothing is joined wrongly: the three passes are one journey", () => {
    expect(said.at(-1)?.joins).toEqual(["before 3 alone", "reversed 3 joined", "after 3 joined"]);
  });

  it("without a site before it, the limit goes out all the same", () => {
    const alone = saidAfterEach(railroad, train, [passAt(reversed, "rising", 253)]);
    expect(alone[0]?.warnings.some((warning) => warning.level === "limit" && warning.axle === HOT_AXLE)).toBe(true);
  });
});
