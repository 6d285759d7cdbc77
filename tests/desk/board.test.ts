import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { Board } from "../../src/desk/board/board.ts";
import { needOf } from "../../src/desk/board/urgency.ts";
import { MOST_ACTIONS, MOST_VERSIONS } from "../../src/desk/board/warning-case.ts";
import type { DeskAction } from "../../src/feed/record.ts";
import type { Warning } from "../../src/warning/warning.ts";
import { BOOK } from "../warning/samples.ts";
import { action, MINUTE_MS, START_MS, warning } from "./samples.ts";

const at = (minutes: number) => new Date(START_MS + minutes * MINUTE_MS).toISOString();

describe("the board", () => {
  test("ends the same whatever the order in which versions and actions come, and however often", () => {
    const versions = [
      warning(),
      warning({ version: 2, time: at(5), riseF: 120 }),
      warning({ version: 3, time: at(9), level: "limit", riseF: 175 }),
      warning({ id: "W-0002", level: "watch" }),
    ];
    const actions = [
      action({ action: "acknowledge", time: at(1) }),
      action({ action: "assign", to: "Ben", time: at(2) }),
      action({ action: "note", done: "told-crew", text: "told", time: at(10) }),
      action({ action: "note", text: "a word", warning: "W-0002" }),
    ];
    type Step = { w: Warning } | { a: DeskAction };
    const steps: Step[] = [...versions.map((w) => ({ w })), ...actions.map((a) => ({ a }))];
    const fold = (order: readonly Step[]) => {
      const board = new Board(BOOK);
      for (const step of order) {
        if ("w" in step) board.warning(step.w, Date.parse(step.w.time));
        else board.action(step.a, Date.parse(step.a.time));
      }
      return board.rows(true);
    };
    const expected = fold(steps);
    expect(expected[0]).toMatchObject({ id: "W-0001", version: 3, actions: 3, owner: "Ben", level: "limit" });
    fc.assert(
      fc.property(fc.shuffledSubarray([...steps, ...steps], { minLength: steps.length * 2 }), (order) => {
        expect(fold(order)).toEqual(expected);
      }),
      { numRuns: 200 },
    );
  });

  test("what asks for a decision comes first, by its deadline; the limit before everything", () => {
    const board = new Board(BOOK);
    board.warning(warning({ id: "far", setOut: { place: "f", name: "far", milepost: 1, miles: 30, carLengths: 9 } }), 0);
    board.warning(warning({ id: "near" }), 0);
    board.warning(warning({ id: "none", setOut: null }), 0);
    board.warning(warning({ id: "limit", level: "limit", crossing: null, setOut: null, time: at(3) }), 0);
    board.warning(warning({ id: "watch", level: "watch" }), 0);
    board.warning(warning({ id: "over", state: "cleared" }), 0);
    expect(board.rows().map((row) => row.id)).toEqual(["limit", "near", "none", "far", "watch"]);
    expect(board.rows(true).at(-1)?.id).toBe("over");
  });

  test("at the limit the critical one comes first, then what nobody has acted on, then what was read last", () => {
    const board = new Board(BOOK);
    const limit = (id: string, minutes: number, over: Partial<Warning> = {}) =>
      board.warning(warning({ id, level: "limit", crossing: null, setOut: null, time: at(minutes), riseF: 180, ...over }), 0);
    limit("held", 30);
    limit("new", 20);
    limit("newer", 25);
    limit("critical", 1, { riseF: 283, critical: true });
    limit("critical, held", 2, { riseF: 270, critical: true });
    limit("critical, held", 9, { version: 2, riseF: 144 });
    board.action(action({ action: "assign", to: "Ben", warning: "held", time: at(31) }), 1);
    board.action(action({ action: "acknowledge", warning: "critical, held", time: at(31) }), 1);
    board.warning(warning({ id: "warn", time: at(40) }), 0);
    expect(board.rows().map((row) => row.id)).toEqual(["critical", "critical, held", "newer", "new", "held", "warn"]);
  });

  test("a warn is in hand only once it is acknowledged and the crew was told since the level last rose", () => {
    const board = new Board(BOOK);
    const need = () => needOf(board.row("W-0001")!);
    board.warning(warning(), 1);
    expect(need()).toBe("decide");
    board.action(action({ action: "acknowledge", time: at(1) }), 2);
    expect(need()).toBe("decide");
    board.action(action({ action: "note", done: "told-crew", time: at(2) }), 3);
    expect(need()).toBe("in-hand");
    board.warning(warning({ version: 2, state: "acknowledged", time: at(4) }), 4);
    expect(need()).toBe("in-hand");
    board.warning(warning({ version: 3, level: "limit", time: at(20) }), 5);
    expect(need()).toBe("decide");
    expect(board.row("W-0001")!.done).toBeNull();
  });

  test("an action shows at once, by the engine's own rules, and says that it is on its way", () => {
    const board = new Board(BOOK);
    board.warning(warning(), 1);
    board.action(action({ action: "found", found: "defect-confirmed", time: at(1) }), 2);
    expect(board.row("W-0001")).toMatchObject({ state: "out-of-service", pending: true });
    board.warning(warning({ version: 2, state: "out-of-service", time: at(1) }), 3);
    expect(board.row("W-0001")).toMatchObject({ state: "out-of-service", pending: false });
  });

  test("a limit that somebody asked to shelve stays where it is", () => {
    const board = new Board(BOOK);
    board.warning(warning({ level: "limit" }), 1);
    board.action(action({ action: "shelve", text: "later", until: at(60), time: at(1) }), 2);
    expect(board.row("W-0001")).toMatchObject({ state: "unacknowledged" });
  });

  test("keeps bounds: versions, actions, warnings", () => {
    const board = new Board(BOOK, 50);
    for (let version = 1; version <= MOST_VERSIONS + 50; version++) board.warning(warning({ version, time: at(version) }), version);
    expect(board.caseOf("W-0001")!.versions).toHaveLength(MOST_VERSIONS);
    expect(board.caseOf("W-0001")!.versions[0]!.version).toBe(1);
    for (let i = 0; i < MOST_ACTIONS + 10; i++) board.action(action({ action: "note", text: "x" }), i);
    expect(board.caseOf("W-0001")!.actions).toHaveLength(MOST_ACTIONS);
    board.warning(warning({ id: "closed", state: "cleared" }), 1);
    for (let i = 0; i < 60; i++) board.warning(warning({ id: `many-${i}` }), 2);
    expect(board.size).toBe(50);
    // What is closed goes before what is open.
    expect(board.row("closed")).toBeUndefined();
    expect(board.forgotten).toBe(12);
  });
});
