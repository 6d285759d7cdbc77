import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { HeatKind } from "../../src/bearing/track.ts";
import { warning as warningSchema } from "../../src/feed/outbound/warnings.ts";
import type { DeskAction } from "../../src/feed/record.ts";
import type { Journey } from "../../src/journey/journey.ts";
import type { Railroad } from "../../src/line/railroad.ts";
import { comparePasses, type Pass } from "../../src/pass/pass.ts";
import { decide } from "../../src/warning/decide.ts";
import { Ledger } from "../../src/warning/ledger.ts";
import type { Warning } from "../../src/warning/warning.ts";
import { BOOK, journeyOf, look, outlook, passAt, RULES, reading, START_MS, straightRailroad } from "./samples.ts";

const MINUTE = 60_000;
const ROW = 2;
const RAIL = 0;
const RAILROAD = straightRailroad(12);

/** Rise that stands for: no reading here, the axle is not in the pass, none of its vehicle is. */
const UNMEASURED = [-1, -2, -3];
const [NO_READING, NOT_COUNTED, GONE] = UNMEASURED as [number, number, number];

type Bearing = [row: number, rail: 0 | 1];

/** What the live fold does around a ledger, reduced to a few bearings a train that are always candidates. */
class Follower {
  readonly ledger: Ledger;
  readonly out: Warning[] = [];
  readonly #placed = new Map<string, Pass[]>();
  #all: Pass[] = [];
  #nowMs = 0;

  readonly #bearings: Bearing[];
  readonly #heat: HeatKind;

  constructor(setup: { railroad?: Railroad; corridor?: string; bearings?: Bearing[]; heat?: HeatKind } = {}) {
    this.ledger = new Ledger({ railroad: setup.railroad ?? RAILROAD, book: BOOK, corridor: setup.corridor ?? "corridor" });
    this.#bearings = setup.bearings ?? [[ROW, RAIL]];
    this.#heat = setup.heat ?? "bearing";
  }

  add(pass: Pass): Warning[] {
    const before = this.out.length;
    const later = this.#all.filter((other) => comparePasses(other, pass) > 0);
    if (later.length > 0) this.ledger.rollBack(pass);
    for (const other of later) {
      const placed = this.#placed.get(other.train!)!;
      placed.splice(placed.indexOf(other), 1);
    }
    for (const one of [pass, ...later]) this.#place(one);
    this.#all = [...this.#all, pass].sort(comparePasses);
    this.#nowMs = Math.max(this.#nowMs, pass.endedMs);
    this.ledger.settle(this.out, this.#nowMs);
    return this.out.slice(before);
  }

  act(action: DeskAction): Warning[] {
    const before = this.out.length;
    this.ledger.act(action);
    this.#nowMs = Math.max(this.#nowMs, Date.parse(action.time));
    this.ledger.settle(this.out, this.#nowMs);
    return this.out.slice(before);
  }

  #place(pass: Pass): void {
    const placed = this.#placed.get(pass.train!) ?? [];
    placed.push(pass);
    this.#placed.set(pass.train!, placed);
    const journey = journeyOf(placed);
    for (const leg of journey.legs) if (leg.pass.bearingRiseF[RAIL][ROW]! <= NOT_COUNTED) leg.rosterOfRow[ROW] = -1;
    const legIndex = placed.length - 1;
    for (const [row, rail] of this.#bearings) {
      const seen = { ...lookOf(journey, pass, row, rail), heat: this.#heat };
      const decision = decide(seen, this.ledger.before(journey.id, legIndex, row, rail), RULES);
      this.ledger.record({ journey, legIndex, rosterAxle: row, side: rail, look: seen, decision });
    }
  }
}

/** A made-up outlook that moves with the last two readings: what a ledger is told depends on the legs before. */
function lookOf(journey: Journey, pass: Pass, row = ROW, rail: 0 | 1 = RAIL) {
  const shown = journey.legs.map((leg) => leg.pass.bearingRiseF[rail][row]!);
  const track = journey.legs.map((leg, i) => reading(leg.miles, shown[i]! < 0 ? Number.NaN : shown[i]!));
  const riseF = track.at(-1)!.riseF;
  const measured = track.filter((one) => !Number.isNaN(one.riseF)).map((one) => one.riseF);
  const last = measured.at(-1) ?? 25;
  const grown = last - (measured.at(-2) ?? 25);
  const chanceNext = Math.min(1, Math.max(0, (last + grown - 60) / 150));
  const crossing = grown > 0 ? { miles: (170 - last) / grown + 10, low: 8, high: 90 } : null;
  const site = RAILROAD.sites.get(pass.site)!;
  return look({
    timeMs: pass.endedMs,
    siteName: site.name,
    milepost: site.milepost,
    train: journey.train,
    riseF,
    excessF: riseF - 25,
    presence: shown.at(-1) === GONE ? "gone" : shown.at(-1) === NOT_COUNTED ? "not-counted" : "here",
    track,
    readings: track.length,
    outlook: outlook({ chanceNext, chanceNextButOne: chanceNext, rising: chanceNext, crossing, used: track.map(() => "used") }),
    ahead: RAILROAD.ahead(pass.site, "1", "rising", 2),
  });
}

const standing = (ledger: Ledger) =>
  [...ledger.published()]
    .filter((warning) => warning.state !== "withdrawn")
    .map(({ version: _version, correction: _correction, ...content }) => content)
    .sort((a, b) => (a.id < b.id ? -1 : 1));

/** Days of up to three trains over up to eight sites; the followed bearing reads anything, or is not measured. */
const anyRise = fc.oneof(
  { weight: 4, arbitrary: fc.integer({ min: 20, max: 190 }) },
  { weight: 1, arbitrary: fc.constantFrom(...UNMEASURED) },
);
const day = fc
  .array(fc.array(anyRise, { minLength: 1, maxLength: 8 }), { minLength: 1, maxLength: 3 })
  .map((trains) =>
    trains.flatMap((rises, t) => rises.map((riseF, s) => passAt(s, `Q${t}`, START_MS + (s * 15 + t * 7) * MINUTE, [[ROW, RAIL, riseF]]))),
  );
const dayTwice = day.chain((passes) => fc.tuple(fc.constant(passes), fc.shuffledSubarray(passes, { minLength: passes.length })));

describe("the ledger", () => {
  it("ends with the same warnings whatever the order in which passes come, and a late change is a correction", () => {
    fc.assert(
      fc.property(dayTwice, ([passes, shuffled]) => {
        const inOrder = new Follower();
        for (const pass of [...passes].sort(comparePasses)) for (const version of inOrder.add(pass)) expect(version.correction).toBe(false);
        const anyOrder = new Follower();
        const versions = new Map<string, number>();
        for (const pass of shuffled) {
          for (const version of anyOrder.add(pass)) {
            expect(version.version).toBe((versions.get(version.id) ?? 0) + 1);
            versions.set(version.id, version.version);
          }
        }
        expect(standing(anyOrder.ledger)).toEqual(standing(inOrder.ledger));
      }),
      { numRuns: 150, seed: 20260301 },
    );
  });

  it("gives the same bytes for the same order, each of them as the contract has it", () => {
    fc.assert(
      fc.property(day, (passes) => {
        const [once, again] = [new Follower(), new Follower()];
        for (const pass of passes) {
          once.add(pass);
          again.add(pass);
        }
        expect(JSON.stringify(again.out)).toBe(JSON.stringify(once.out));
        for (const version of once.out) expect(warningSchema.safeParse(JSON.parse(JSON.stringify(version))).error).toBeUndefined();
      }),
      { numRuns: 100, seed: 20260301 },
    );
  });

  it("reports every reading at or over the limit at its site, and holds each in the evidence when passes come late", () => {
    fc.assert(
      fc.property(dayTwice, ([passes, shuffled]) => {
        const [inOrder, anyOrder] = [new Follower(), new Follower()];
        for (const pass of [...passes].sort(comparePasses)) inOrder.add(pass);
        for (const pass of shuffled) anyOrder.add(pass);
        for (const pass of passes.filter((pass) => pass.bearingRiseF[RAIL][ROW]! >= 170)) {
          const riseF = pass.bearingRiseF[RAIL][ROW]!;
          expect(inOrder.out).toContainEqual(expect.objectContaining({ pass: pass.id, level: "limit", state: "unacknowledged", riseF }));
          const told = standing(anyOrder.ledger).find((warning) => warning.train === pass.train);
          expect(told?.level).toBe("limit");
          expect(told?.evidence).toContainEqual(expect.objectContaining({ pass: pass.id, riseF }));
        }
      }),
      { numRuns: 100, seed: 20260301 },
    );
  });

  it("lets one bearing speak for hot brakes whatever the order in which passes come", () => {
    const bearings: Bearing[] = [
      [0, 0],
      [1, 1],
      [5, 0],
      [2, 0],
    ];
    const hot = fc.array(fc.array(fc.integer({ min: 20, max: 150 }), { minLength: 4, maxLength: 4 }), { minLength: 1, maxLength: 7 });
    const passes = hot.map((rises) =>
      rises.map((at, s) =>
        passAt(
          s,
          "Q1",
          START_MS + s * 15 * MINUTE,
          at.map((riseF, i) => [...bearings[i]!, riseF]),
        ),
      ),
    );
    const shuffled = passes.chain((all) => fc.tuple(fc.constant(all), fc.shuffledSubarray(all, { minLength: all.length })));
    fc.assert(
      fc.property(shuffled, ([all, anyhow]) => {
        const [inOrder, anyOrder] = [new Follower({ bearings, heat: "brakes" }), new Follower({ bearings, heat: "brakes" })];
        for (const pass of all) inOrder.add(pass);
        for (const pass of anyhow) anyOrder.add(pass);
        expect(standing(anyOrder.ledger)).toEqual(standing(inOrder.ledger));
      }),
      { numRuns: 100, seed: 20260301 },
    );
  });

  it("speaks once for a vehicle with hot brakes, and again for each bearing at the limit", () => {
    const bearings: Bearing[] = [
      [0, 0],
      [1, 1],
      [5, 0],
    ];
    const follower = new Follower({ bearings, heat: "brakes" });
    const at = (s: number, rises: number[]) =>
      follower.add(
        passAt(
          s,
          "Q1",
          START_MS + s * 15 * MINUTE,
          rises.map((riseF, i) => [...bearings[i]!, riseF]),
        ),
      );
    // The third is of another vehicle.
    expect(
      at(0, [110, 110, 110])
        .map((said) => said.axle)
        .sort(),
    ).toEqual([1, 6]);
    expect(at(1, [120, 175, 120]).map((said) => [said.axle, said.level])).toContainEqual([2, "limit"]);
  });

  it("says once that a vehicle left the train, and goes on when it is seen again", () => {
    const follower = new Follower();
    const said = [30, 110, GONE, GONE, GONE, 112].map((riseF, s) =>
      follower.add(passAt(s, "Q1", START_MS + s * 15 * MINUTE, [[ROW, RAIL, riseF]])),
    );
    expect(said.map((versions) => versions.length)).toEqual([0, 1, 1, 0, 0, 1]);
    expect(said[2]![0]).toMatchObject({
      level: "warn",
      state: "unacknowledged",
      site: "s1",
      crossing: null,
      setOut: null,
    });
    expect(said[2]![0]!.reasons[0]).toContain("is no longer in the train at Site 2");
    expect(said[5]![0]).toMatchObject({ level: "warn", state: "unacknowledged", site: "s5", riseF: 112 });
  });

  it("says once that a bearing was not measured, and once more when its vehicle is gone", () => {
    const follower = new Follower();
    const said = [30, 110, NO_READING, NO_READING, NOT_COUNTED, GONE, GONE].map((riseF, s) =>
      follower.add(passAt(s, "Q1", START_MS + s * 15 * MINUTE, [[ROW, RAIL, riseF]])),
    );
    expect(said.map((versions) => versions.length)).toEqual([0, 1, 1, 0, 1, 1, 0]);
    expect(said.flat().map((version) => version.state)).toEqual(Array(4).fill("unacknowledged"));
  });

  it("says nothing again when legs taken back come again as they were", () => {
    const follower = new Follower();
    const passes = [30, 90, 120, 165].map((riseF, s) => passAt(s, "Q1", START_MS + s * 15 * MINUTE, [[ROW, RAIL, riseF]]));
    for (const pass of passes) follower.add(pass);
    const said = follower.out.length;
    follower.add(passAt(0, "Q9", START_MS - MINUTE, []));
    expect(follower.out).toHaveLength(said);
  });

  it("a late pass before the first level moves the id: the old one is withdrawn in favour of the new, with what the desk did", () => {
    const follower = new Follower();
    const at = (s: number, riseF: number) => passAt(s, "Q1", START_MS + s * 15 * MINUTE, [[ROW, RAIL, riseF]]);
    follower.add(at(2, 120));
    const old = follower.out[0]!;
    follower.act(acknowledge(old.id, 40));
    const [first, second] = follower.add(at(1, 110)).sort((a, b) => (a.state === "withdrawn" ? -1 : b.state === "withdrawn" ? 1 : 0));
    expect(first).toMatchObject({ id: old.id, version: 3, state: "withdrawn", correction: true, supersededBy: second!.id });
    expect(second).toMatchObject({ version: 1, correction: true, site: "s2", level: "warn" });
    expect(follower.act(acknowledge(old.id, 50, "A-2"))).toEqual([]);
    expect(second).toMatchObject({ state: "acknowledged" });
  });

  it("takes a warning back when a late pass shows that there was no reason for it", () => {
    const railroad = straightRailroad(12);
    const ledger = new Ledger({ railroad, book: BOOK, corridor: "corridor" });
    const journey = journeyOf([passAt(0, "Q1", START_MS, [[ROW, RAIL, 120]])]);
    const seen = lookOf(journey, journey.legs[0]!.pass);
    ledger.record({ journey, legIndex: 0, rosterAxle: ROW, side: RAIL, look: seen, decision: decide(seen, null, RULES) });
    const out: Warning[] = [];
    ledger.settle(out, START_MS);
    ledger.takeBack(journey.id, 0);
    ledger.settle(out, START_MS);
    expect(out.map(({ version, state, correction, supersededBy }) => [version, state, correction, supersededBy])).toEqual([
      [1, "unacknowledged", false, null],
      [2, "withdrawn", true, null],
    ]);
    expect(ledger.following(journey.id)).toEqual([]);
  });
});

function acknowledge(warning: string, minute: number, id = "A-1"): DeskAction {
  return {
    type: "desk-action",
    id,
    time: new Date(START_MS + minute * MINUTE).toISOString(),
    by: "desk-2",
    action: "acknowledge",
    warning,
  };
}

describe("desk actions", () => {
  const hot = passAt(0, "Q1", START_MS, [[ROW, RAIL, 120]]);

  it("that came before their warning wait for it; a repeated one changes nothing", () => {
    const known = new Follower();
    const { id } = known.add(hot)[0]!;
    const early = new Follower();
    expect(early.act(acknowledge(id, 1))).toEqual([]);
    expect(early.add(hot)[0]).toMatchObject({ id, state: "acknowledged" });
    expect(early.act(acknowledge(id, 1))).toEqual([]);
  });

  it("still count when the journey is over, and a shelf still ends", () => {
    const follower = new Follower();
    const { id, journey } = follower.add(hot)[0]!;
    follower.ledger.close(journey);
    expect(follower.ledger.counts().followed).toBe(0);
    const until = new Date(START_MS + 30 * MINUTE).toISOString();
    expect(follower.act({ ...acknowledge(id, 5), action: "shelve", until })[0]).toMatchObject({ id, version: 2, state: "shelved" });
    expect(follower.act(acknowledge("W-other", 31, "A-3"))[0]).toMatchObject({ id, version: 3, state: "unacknowledged", time: until });
    const found = follower.act({ ...acknowledge(id, 60, "A-4"), action: "found", found: "nothing-found" })[0]!;
    expect(found).toMatchObject({ state: "cleared", advice: RULES.advice.ended.cleared });
    expect(found.reasons.at(-1)).toBe("2026-02-03 05:00 UTC, desk-2: found: nothing.");
  });

  it("reach a warning that was published before this ledger began, and its versions go on", () => {
    const earlier = new Follower().add(hot)[0]!;
    const follower = new Follower();
    follower.ledger.adopt({ ...earlier, version: 7 });
    expect(follower.act(acknowledge(earlier.id, 5))[0]).toMatchObject({ version: 8, state: "acknowledged" });
  });
});

describe("a warning at the border of two corridors", () => {
  it("is published by the corridor that owns the site; what was raised on the lead-in still stands", () => {
    const railroad = straightRailroad(6, (site) => (site < 2 ? ["west", "east"] : ["east"]));
    const [west, east] = [new Follower({ railroad, corridor: "west" }), new Follower({ railroad, corridor: "east" })];
    const at = (s: number, riseF: number) => passAt(s, "Q1", START_MS + s * 15 * MINUTE, [[ROW, RAIL, riseF]]);
    expect(west.add(at(0, 100))[0]).toMatchObject({ corridor: "west", site: "s0" });
    expect(east.add(at(0, 100))).toEqual([]);
    expect(east.add(at(1, 120))).toEqual([]);
    // Low at the first site of its own: the warn raised on the lead-in is latched all the same.
    expect(east.add(at(2, 50))[0]).toMatchObject({ corridor: "east", site: "s2", level: "warn" });
  });
});
