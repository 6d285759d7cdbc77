import { describe, expect, test } from "vitest";
import { doubtUnits } from "../../src/pass/units-doubt.ts";
import { assembly, fold, inOrder, sent, siteWith } from "./records.ts";

const told = (declared: Parameters<typeof siteWith>[0], change = (value: number) => value) => {
  const train = sent(41);
  const whole = train.axles[0]!;
  const changed = {
    ...whole,
    left: { bearing: whole.left.bearing.map((v) => change(v!)) },
    right: { bearing: whole.right.bearing.map((v) => change(v!)) },
  };
  const of = siteWith(declared);
  return doubtUnits(fold(inOrder({ ...train, axles: [changed] }), assembly(of))[0]!, of.units);
};

describe("a wrong unit in the line file is noticed and the likely one named", () => {
  test("the right units are not doubted", () => expect(told({})).toBeNull());
  test("feet declared, inches sent", () => expect(told({ gap: "ft" })).toContain("the line file says ft, the site likely sends in"));
  test("millimetres declared, inches sent", () => expect(told({ gap: "mm" })).toContain("likely sends in"));
  test("km/h declared, mph sent", () => expect(told({ speed: "km/h" })).toContain("the line file says km/h, the site likely sends mph"));
  test("above ambient declared, absolute °F sent on a hot day", () => {
    expect(told({ temperature: "C" }, (value) => value + 54)).toContain("likely sends °F absolute");
  });
  test("absolute °F declared, above ambient sent", () => {
    expect(told({ reading: "absolute" }, (value) => value - 10)).toContain(
      "the line file says °F absolute, the site likely sends °F above-ambient",
    );
  });
  test("one burning bearing does not make a train impossible", () => {
    let first = true;
    expect(
      told({}, (value) => {
        const reading = first ? 900 : value;
        first = false;
        return reading;
      }),
    ).toBeNull();
  });
  test("a train of which most bearings read as none does is noticed whichever axles are asked first", () => {
    for (let odd = 2; odd < 9; odd++) {
      let at = 0;
      const doubt = told({}, (value) => (at++ % odd === 0 ? value : value + 300));
      expect(doubt).toContain("which no whole train does");
    }
  });
});
