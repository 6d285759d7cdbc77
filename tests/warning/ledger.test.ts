import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { warning as warningSchema } from "../../src/feed/outbound/warnings.ts";
import type { DeskAction } from "../../src/feed/record.ts";
import type { Journey } from "../../src/journey/journey.ts";
import { comparePasses, type Pass } from "../../src/pass/pass.ts";
import { decide } from "../../src/warning/decide.ts";
import { Ledger } from "../../src/warning/ledger.ts";
import type { Warning } from "../../src/warning/warning.ts";
import { BOOK, journeyOf, look, outlook, passAt, RULES, reading, START_MS, straightRailroad } from "./samples.ts";

const MINUTE = 60_000;
const ROW = 2;
const RAIL = 0;
const RAILROAD = straightRailroad(12);

/** What the live fold does around a ledger, reduced to one bearing a train that is always a candidate. */
class Follower {
  readonly ledger: Ledger;
  readonly out: Warning[] = [];
  readonly #placed = new Map<string, Pass[]>();
  #all: Pass[] = [];
  #nowMs = 0;

  constructor(railroad = RAILROAD, corridor = "corridor") {
    this.ledger = new Ledger({ railroad, book: BOOK, corridor });
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
    const legIndex = placed.length - 1;
    const seen = lookOf(journey, pass);
    const decision = decide(seen, this.ledger.before(journey.id, legIndex, ROW, RAIL), RULES);
    this.ledger.record({ journey, legIndex, rosterAxle: ROW, side: RAIL, look: seen, decision });
  }
}

/** A made-up outlook that moves with the last two readings: what a ledger is told depends on the legs before. */
function lookOf(journey: Journey, pass: Pass) {
  const track = journey.legs.map((leg) => reading(leg.miles, leg.pass.bearingRiseF[RAIL][ROW]!));
  const riseF = track.at(-1)!.riseF;
  const grown = riseF - (track.at(-2)?.riseF ?? 25);
  const chanceNext = Math.min(1, Math.max(0, (riseF + grown - 60) / 150));
  const crossing = grown > 0 ? { miles: (170 - riseF) / grown + 10, low: 8, high: 90 } : null;
  const site = RAILROAD.sites.get(pass.site)!;
  return look({
    timeMs: pass.endedMs,
    siteName: site.name,
    milepost: site.milepost,
    train: journey.train,
    riseF,
    excessF: riseF - 25,
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

/** Days of up to three trains over up to eight sites; the followed bearing reads anything. */
const day = fc
  .array(fc.array(fc.integer({ min: 20, max: 190 }), { minLength: 1, maxLength: 8 }), { minLength: 1, maxLength: 3 })
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
      { numRuns: 250, seed: 20260301 },
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
      { numRuns: 200, seed: 20260301 },
    );
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
    const [west, east] = [new Follower(railroad, "west"), new Follower(railroad, "east")];
    const at = (s: number, riseF: number) => passAt(s, "Q1", START_MS + s * 15 * MINUTE, [[ROW, RAIL, riseF]]);
    expect(west.add(at(0, 100))[0]).toMatchObject({ corridor: "west", site: "s0" });
    expect(east.add(at(0, 100))).toEqual([]);
    expect(east.add(at(1, 120))).toEqual([]);
    // Low at the first site of its own: the warn raised on the lead-in is latched all the same.
    expect(east.add(at(2, 50))[0]).toMatchObject({ corridor: "east", site: "s2", level: "warn" });
  });
});
