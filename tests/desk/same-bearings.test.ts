import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { Board, MOST_WARNINGS } from "../../src/desk/board/board.ts";
import type { EvidenceReading, Warning } from "../../src/warning/warning.ts";
import { BOOK } from "../warning/samples.ts";
import { deskOnDay } from "./railroad.ts";
import { MINUTE_MS, START_MS, warning } from "./samples.ts";

/** A reading of axle 187 at the n-th site of the run, by both corridors the same but for the grid it was written on. */
function reading(n: number, over: Partial<EvidenceReading> = {}): EvidenceReading {
  const read = { site: `site-${n}`, milepost: n * 10, miles: n * 10, pass: `pass-${n}`, axle: 187, riseF: 50 + 10 * n, leveledF: 20 };
  return { ...read, time: new Date(START_MS + n * 15 * MINUTE_MS).toISOString(), used: "used", ...over } as EvidenceReading;
}

const seen = (...at: number[]) => at.map((n) => reading(n));
const alder = (over: Partial<Warning> = {}) => warning({ id: "W-A", corridor: "alder", pass: "pass-3", evidence: seen(1, 2, 3), ...over });
const birch = (over: Partial<Warning> = {}) =>
  warning({ id: "W-B", corridor: "birch", journey: "J-other", pass: "pass-4", evidence: seen(3, 4), ...over });

function board(...warnings: Warning[]): Board {
  const made = new Board(BOOK);
  for (const one of warnings) made.warning(one, START_MS);
  return made;
}

const pointer = (on: Board, id: string) => {
  const { same, leads } = on.row(id)!;
  return { same, leads };
};

describe("a bearing that runs from one corridor into the next", () => {
  test("is two warnings that point to each other; the one heard last speaks for it", () => {
    const on = board(alder(), birch());
    expect(pointer(on, "W-A")).toEqual({ same: ["W-B"], leads: false });
    expect(pointer(on, "W-B")).toEqual({ same: ["W-A"], leads: true });
    // The pages of both are told when one of them changes.
    expect(on.warning(alder({ version: 2, pass: "pass-5", evidence: seen(1, 2, 3, 4, 5) }), START_MS)).toEqual(["W-A", "W-B"]);
    expect(pointer(on, "W-A").leads).toBe(true);
    expect(pointer(on, "W-B").leads).toBe(false);
    expect(on.warning(alder({ version: 3, state: "withdrawn", evidence: seen(1, 2) }), START_MS)).toEqual(["W-A", "W-B"]);
    expect(pointer(on, "W-B")).toEqual({ same: [], leads: true });
  });

  test("is not the other end of the axle, another axle, or another bearing of the same corridor", () => {
    const otherEnd = birch({ evidence: [reading(3, { riseF: 41 }), reading(4)] });
    const otherAxle = birch({ axle: 188, evidence: [reading(3, { axle: 188 }), reading(4, { axle: 188 })] });
    for (const other of [otherEnd, otherAxle, birch({ corridor: "alder" })]) expect(pointer(board(alder(), other), "W-A").same).toEqual([]);
  });

  test("comes out the same whatever the order in which versions come", () => {
    const all = [
      alder(),
      alder({ version: 2, evidence: seen(1, 2, 3, 4), pass: "pass-4" }),
      birch(),
      birch({ version: 2, level: "limit" }),
    ];
    const expected = board(...all).rows(true);
    fc.assert(
      fc.property(fc.shuffledSubarray([...all, ...all], { minLength: 8 }), (order) => {
        expect(board(...order).rows(true)).toEqual(expected);
      }),
    );
  });

  test("points to nothing that was let go", () => {
    const on = new Board(BOOK, 2);
    on.warning(alder({ state: "cleared" }), START_MS);
    on.warning(birch(), START_MS + 1);
    expect(pointer(on, "W-B").same).toEqual(["W-A"]);
    on.warning(warning({ id: "W-C" }), START_MS + 2);
    expect(on.row("W-A")).toBeUndefined();
    expect(pointer(on, "W-B")).toEqual({ same: [], leads: true });
  });

  test("costs little beside ten thousand others", () => {
    const on = new Board(BOOK);
    for (let n = 0; n < MOST_WARNINGS / 2; n++) {
      const evidence = seen(1, 2, 3, 4, 5).map((one) => ({ ...one, axle: n }));
      on.warning(warning({ id: `W-${n}`, axle: n, corridor: n % 2 === 0 ? "alder" : "birch", evidence }), START_MS);
    }
    const { user } = process.threadCpuUsage();
    for (let version = 2; version < 102; version++) on.warning(alder({ version }), START_MS);
    expect((process.threadCpuUsage().user - user) / 1_000 / 100, "ms a version").toBeLessThan(2);
  });
});

describe("on the demonstration's day", () => {
  test("both ways every pointer is of another corridor and back, and the train is the same", async () => {
    const { desk, close } = await deskOnDay(Date.parse("2026-03-04T16:36:00Z"), { pages: false });
    const rows = desk.desk.state.board.rows(true);
    const byId = new Map(rows.map((row) => [row.id, row]));
    const pairs = rows.flatMap((row) => row.same.map((id) => [row, byId.get(id)!] as const));
    expect(pairs.length).toBeGreaterThan(0);
    for (const [row, other] of pairs) {
      expect(other.same).toContain(row.id);
      expect(other.corridor).not.toBe(row.corridor);
      expect(other.train).toBe(row.train);
    }
    for (const row of rows) {
      const group = [row, ...row.same.map((id) => byId.get(id)!)];
      expect(group.filter((one) => one.leads)).toHaveLength(1);
    }
    await close();
  });
});
