import { expect, test } from "vitest";
import { DeskState } from "../../src/desk/board/desk-state.ts";
import { clockView } from "../../src/desk/views/clock-view.ts";
import { handoverView, MOST_OPEN } from "../../src/desk/views/handover-view.ts";
import { lineOf, rulesOf } from "../../src/replay/railroad-files.ts";
import { MINUTE_MS, START_MS, warning } from "./samples.ts";

test("a handover lists so many open warnings, the most pressing first, and says how many more there are", () => {
  const railroad = lineOf("replay-data/line.yaml");
  const state = new DeskState(railroad, rulesOf("replay-data/rules/standard"));
  const more = 7;
  for (let n = 0; n < MOST_OPEN + more; n++) {
    const value = warning({ id: `W-${n}`, level: n === MOST_OPEN + more - 1 ? "limit" : "watch" });
    state.fold({ kind: "warning", value, arrivedMs: START_MS });
  }
  const view = handoverView(state, railroad, START_MS - MINUTE_MS, START_MS + MINUTE_MS, 1, clockView(state, START_MS, 1));
  expect(view.open).toHaveLength(MOST_OPEN);
  expect(view.moreOpen).toBe(more);
  expect(view.open[0]!.level).toBe("limit");
});
