import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { Hub, MOST_CHANGES, MOST_LISTENERS } from "../../src/desk/hub.ts";

const row = (id: string) => ({ what: "row", id }) as const;

describe("the stream of changes", () => {
  test("a page that lost its connection gets everything it missed, each thing once, the last state of it last", () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 0, max: 9 }), { maxLength: 60 }), fc.nat(60), (ids, cut) => {
        const hub = new Hub("run");
        for (const id of ids) hub.add(row(String(id)));
        const from = Math.min(cut, ids.length);
        const missed = hub.since(from)!.map((change) => (change as { id: string }).id);
        expect(new Set(missed)).toEqual(new Set(ids.slice(from).map(String)));
        expect(new Set(missed).size).toBe(missed.length);
        hub.close();
      }),
    );
  });

  test("what is longer ago than the ring reaches is said to be unknown, never left out", () => {
    const hub = new Hub("run");
    for (let i = 0; i < MOST_CHANGES * 2; i++) hub.add(row(`${i}`));
    expect(hub.since(0)).toBeNull();
    expect(hub.since(hub.last)).toEqual([]);
    expect(hub.since(hub.last - 10)).toHaveLength(10);
    hub.close();
  });

  test("a place of another run means nothing", () => {
    const hub = new Hub("run");
    hub.add(row("a"));
    expect(hub.placeOf("run-1")).toBe(1);
    for (const id of ["other-1", "run-", "run-x", "", "run-1e9", "run--1"]) expect(hub.placeOf(id)).toBeNull();
    hub.close();
  });

  test("takes so many pages and no more", () => {
    const hub = new Hub("run");
    const listeners = Array.from({ length: MOST_LISTENERS + 1 }, () => ({ at: 0, wake: () => {} }));
    expect(listeners.map((one) => hub.listen(one)).filter((taken) => !taken)).toHaveLength(1);
    hub.close();
  });
});
