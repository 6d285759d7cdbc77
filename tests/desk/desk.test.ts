import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { DESK_TOPICS } from "../../src/desk/board/desk-record.ts";
import { machineClock } from "../../src/desk/clock.ts";
import { Desk } from "../../src/desk/desk.ts";
import { BOOK, emptyLog, RAILROAD } from "./railroad.ts";
import { warning } from "./samples.ts";

async function opened(time: "arrival" | "feed" = "arrival") {
  const log = emptyLog();
  const desk = new Desk({ log, railroad: RAILROAD, book: BOOK, clock: machineClock, time });
  await desk.open();
  return { log, desk };
}

describe("the desk at its log", () => {
  test("no record, however malformed, stops it: what comes after is shown", async () => {
    const { log, desk } = await opened();
    const json = fc.anything({ maxDepth: 3, withNullPrototype: false, withBigInt: false }).map((value) => JSON.stringify(value) ?? "null");
    const halfRight = fc
      .dictionary(fc.constantFrom(...Object.keys(warning()), "type", "site", "left", "right", "vehicles", "axles"), fc.jsonValue(), {
        maxKeys: 12,
      })
      .map((some) => JSON.stringify({ ...warning(), ...some }));
    const nearlyPass = fc
      .record({
        left: fc.jsonValue(),
        right: fc.jsonValue(),
        vehicles: fc.jsonValue(),
        axles: fc.jsonValue(),
        site: fc.constant("alder-14"),
        ended: fc.string(),
      })
      .map((some) => JSON.stringify(some));
    const nonsense = fc.sample(fc.tuple(fc.constantFrom(...DESK_TOPICS), fc.oneof(json, halfRight, nearlyPass, fc.string())), {
      numRuns: 600,
      seed: 7,
    });
    await log.append(nonsense.map(([topic, value]) => ({ topic, key: "k", value })));
    await log.append([{ topic: "warnings", key: "W-after", value: JSON.stringify(warning({ id: "W-after" })) }]);
    await expect.poll(() => desk.state.board.row("W-after")?.level).toBe("warn");
    expect(desk.unreadable).toBeGreaterThan(0);
    for (const row of desk.state.board.rows(true)) expect(() => JSON.stringify(row)).not.toThrow();
    await desk.close();
  });

  test("one that opens later knows what one that was there all along knows", async () => {
    const { log, desk } = await opened("feed");
    for (let version = 1; version <= 20; version++) {
      await log.append([{ topic: "warnings", key: "W-0001", value: JSON.stringify(warning({ version, riseF: 100 + version })) }]);
    }
    await expect.poll(() => desk.state.board.row("W-0001")?.version).toBe(20);
    const later = new Desk({ log, railroad: RAILROAD, book: BOOK, clock: machineClock, time: "feed" });
    await later.open();
    expect(later.state.board.rows(true)).toEqual(desk.state.board.rows(true));
    await later.close();
    await desk.close();
  });
});
