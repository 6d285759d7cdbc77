import { describe, expect, test } from "vitest";
import { operatorsOf } from "../../src/desk/board/operators.ts";
import { WarningCase } from "../../src/desk/board/warning-case.ts";
import { BOOK } from "../warning/samples.ts";
import { action, MINUTE_MS, START_MS, warning } from "./samples.ts";

const HOUR_MS = 3_600_000;
const at = (minutes: number) => new Date(START_MS + minutes * MINUTE_MS).toISOString();

/** A warning of a minute, acknowledged by somebody two minutes later. */
function answered(id: string, minute: number, by: string | null): WarningCase {
  const one = new WarningCase(warning({ id, time: at(minute) }), START_MS, BOOK);
  if (by !== null) one.act(action({ action: "acknowledge", warning: id, by, time: at(minute + 2) }), START_MS);
  return one;
}

describe("the load of each person", () => {
  test("counts an alarm for who answered it first, once for each rise of the level, and names what nobody answered", () => {
    const twice = answered("W-2", 10, "Ada");
    twice.say(warning({ id: "W-2", version: 2, level: "limit", time: at(30) }), START_MS + 1);
    twice.act(action({ action: "note", done: "told-crew", warning: "W-2", by: "Ben", time: at(31) }), START_MS + 2);
    twice.act(action({ action: "acknowledge", warning: "W-2", by: "Ada", time: at(32) }), START_MS + 2);
    const given = answered("W-3", 20, null);
    given.act(action({ action: "assign", to: "Cleo", by: "Ada", warning: "W-3", time: at(21) }), START_MS);
    const cases = [answered("W-1", 0, "Ada"), twice, given, answered("W-4", 40, null), answered("W-5", -90, "Ada")];
    const found = operatorsOf(cases, START_MS, START_MS + HOUR_MS);
    expect(found.map(({ name, alarms }) => [name, alarms])).toEqual([
      ["Ada", 2],
      // Who has more in hand comes first.
      ["Cleo", 1],
      ["Ben", 1],
      [null, 1],
    ]);
    expect(found[0]).toMatchObject({ perWindow: 2 / 6, perDay: 48, mostInWindow: 1, floods: 0, minutesToAnswer: 2, holds: 3 });
    expect(found.reduce((sum, { alarms }) => sum + alarms, 0)).toBe(5);
  });

  test("tells what nobody answered, however many people there are", () => {
    const busy = Array.from({ length: 60 }, (_, n) => answered(`W-${n}`, n / 2, `Person ${n}`));
    const found = operatorsOf([...busy, answered("W-lost", 5, null)], START_MS, START_MS + HOUR_MS);
    expect(found).toHaveLength(51);
    expect(found.at(-1)).toMatchObject({ name: null, alarms: 1 });
  });

  test("finds the flood of one person in a shift that is quiet as a whole, and who holds what is stale or shelved", () => {
    const flood = Array.from({ length: 11 }, (_, n) => answered(`F-${n}`, n / 2, "Ada"));
    const stale = answered("S-1", -25 * 60, "Ben");
    const shelved = answered("S-2", 1, "Ben");
    shelved.say(warning({ id: "S-2", version: 2, state: "shelved", time: at(1) }), START_MS + 5);
    const [ada, ben] = operatorsOf([...flood, stale, shelved], START_MS, START_MS + 8 * HOUR_MS);
    expect(ada).toMatchObject({ name: "Ada", alarms: 11, mostInWindow: 11, floods: 1, stale: 0 });
    expect(ben).toMatchObject({ name: "Ben", alarms: 1, floods: 0, holds: 2, stale: 1, shelved: 1 });
  });

  /** EEMUA 191 as quoted [S]: 150 a day manageable, 300 not; fewer than 1 in 10 minutes very likely acceptable. */
  test("judges each by the published numbers", () => {
    const many = (name: string, count: number) =>
      Array.from({ length: count }, (_, n) => answered(`${name}-${n}`, (n * 24 * 60) / count, name));
    const found = operatorsOf(
      [...many("A", 143), ...many("B", 150), ...many("C", 151), ...many("D", 300)],
      START_MS,
      START_MS + 24 * HOUR_MS,
    );
    expect(found.map(({ name, judgement }) => [name, judgement])).toEqual([
      ["D", "not manageable"],
      ["C", "more than manageable"],
      ["B", "manageable"],
      ["A", "acceptable"],
    ]);
  });
});
