import { describe, expect, test } from "vitest";
import { floodsOf, measuresOf } from "../../src/desk/board/measures.ts";
import { WarningCase } from "../../src/desk/board/warning-case.ts";
import { BOOK } from "../warning/samples.ts";
import { MINUTE_MS, START_MS, warning } from "./samples.ts";

const HOUR_MS = 3_600_000;

/** IEC 62682, EEMUA 191 as quoted [S]: a flood begins over 10 alarms in 10 minutes and ends under 5. */
describe("alarm floods", () => {
  const times = (count: number, everyMs: number, from = 0) => Array.from({ length: count }, (_, i) => from + i * everyMs);

  test("ten in ten minutes are none, eleven are one", () => {
    expect(floodsOf(times(10, MINUTE_MS - 1)).floods).toHaveLength(0);
    const { floods, mostInWindow } = floodsOf(times(11, 50_000));
    expect(floods).toHaveLength(1);
    expect(floods[0]).toMatchObject({ fromMs: 0, toMs: 500_000, alarms: 11 });
    expect(mostInWindow).toBe(11);
  });

  test("a flood goes on at five to ten in ten minutes and ends under five", () => {
    const begun = times(11, 10_000);
    const after = times(6, 2 * MINUTE_MS, begun.at(-1)! + 2 * MINUTE_MS);
    const goesOn = floodsOf([...begun, ...after]);
    expect(goesOn.floods).toHaveLength(1);
    expect(goesOn.floods[0]!.alarms).toBe(17);
    const seldom = times(6, 6 * MINUTE_MS, begun.at(-1)! + 20 * MINUTE_MS);
    expect(floodsOf([...begun, ...seldom]).floods[0]!.alarms).toBe(11);
  });
});

describe("the load of a desk", () => {
  const raised = (count: number, overHours: number) =>
    Array.from(
      { length: count },
      (_, i) =>
        new WarningCase(warning({ id: `W-${i}`, time: new Date(START_MS + (i * overHours * HOUR_MS) / count).toISOString() }), 0, BOOK),
    );

  test("is judged a person: 150 a day manageable, 300 not; under one in ten minutes acceptable [S]", () => {
    const over = (count: number, operators: number) =>
      measuresOf(raised(count, 24), START_MS, START_MS + 24 * HOUR_MS, operators).judgement;
    expect(over(143, 1)).toBe("acceptable");
    expect(over(150, 1)).toBe("manageable");
    expect(over(200, 1)).toBe("more than manageable");
    expect(over(300, 1)).toBe("not manageable");
    expect(over(300, 3)).toBe("acceptable");
  });

  test("counts each rise to warn or limit, and no watch", () => {
    const one = new WarningCase(warning({ level: "watch" }), 0, BOOK);
    one.say(warning({ version: 2, level: "warn" }), 1);
    one.say(warning({ version: 3, level: "warn", riseF: 130 }), 2);
    one.say(warning({ version: 4, level: "limit" }), 3);
    expect(measuresOf([one], START_MS - HOUR_MS, START_MS + HOUR_MS, 1).alarms).toBe(2);
  });

  test("stale is what is open for over 24 hours", () => {
    const one = new WarningCase(warning(), 0, BOOK);
    expect(measuresOf([one], START_MS, START_MS + 24 * HOUR_MS, 1).stale).toBe(0);
    expect(measuresOf([one], START_MS, START_MS + 25 * HOUR_MS, 1).stale).toBe(1);
  });
});
