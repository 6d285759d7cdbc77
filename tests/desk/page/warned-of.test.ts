import { describe, expect, test } from "vitest";
import type { Row } from "../../../src/desk/board/row.ts";
import { WarningCase } from "../../../src/desk/board/warning-case.ts";
import { warnedByJourney } from "../../../src/desk/page/warned-of.ts";
import { BOOK } from "../railroad.ts";
import { START_MS, warning } from "../samples.ts";

function row(id: string, journey: string, changes: Partial<Row> = {}): Row {
  return { ...new WarningCase(warning({ id, journey }), START_MS, BOOK).asRow(), ...changes };
}
const shown = (rows: Row[]) => {
  const found = warnedByJourney({ rows, warned: rows.map(({ id }) => ({ id, journeys: ["J-here", "J-there"] })) });
  return ["J-here", "J-there", "J-else"].map((journey) => (found.get(journey) ?? []).map(({ id }) => id));
};

describe("the warnings of a train on the line", () => {
  test("stand beside it in every corridor that it runs in, and beside no other train", () => {
    expect(shown([row("W-1", "J-there"), row("W-2", "J-here")])).toEqual([["W-1", "W-2"], ["W-1", "W-2"], []]);
  });

  test("of one bearing stand once: the corridor's own, elsewhere the one heard last", () => {
    const own = row("W-1", "J-here", { same: ["W-2"], leads: false });
    const other = row("W-2", "J-there", { same: ["W-1"], leads: true });
    expect(shown([own, other])).toEqual([["W-1"], ["W-2"], []]);
    const [third, fourth] = [row("W-1", "J-3", { same: ["W-2"], leads: false }), row("W-2", "J-4", { same: ["W-1"] })];
    expect(shown([third, fourth])).toEqual([["W-2"], ["W-2"], []]);
  });
});
