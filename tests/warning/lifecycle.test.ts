import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { DeskAction } from "../../src/feed/record.ts";
import { type Decision, rank } from "../../src/warning/decide.ts";
import { type Stand, stand } from "../../src/warning/lifecycle.ts";
import { BOOK, decision, RULES, START_MS } from "./samples.ts";

const RUNS = { numRuns: 1500, seed: 20260301 };
const MINUTE = 60_000;
const END = START_MS + 10_000 * MINUTE;

let made = 0;
function action(minute: number, what: DeskAction["action"], over: Partial<DeskAction> = {}): DeskAction {
  return {
    type: "desk-action",
    id: `A-${made++}`,
    time: new Date(START_MS + minute * MINUTE).toISOString(),
    by: "desk-2",
    action: what,
    warning: "W-1",
    ...over,
  };
}

function at(minute: number, over: Partial<Decision>): Decision {
  return decision({ timeMs: START_MS + minute * MINUTE, ...over });
}

const after = (decisions: Decision[], actions: DeskAction[], untilMs = END): Stand => stand(decisions, actions, BOOK, untilMs);

const WATCH = at(0, { level: "watch" });
const WARN = at(30, { level: "warn" });
const LIMIT = at(60, { level: "limit", riseF: 175 });

describe("the life of a warning", () => {
  it("begins unacknowledged and is acknowledged once; to acknowledge again changes nothing", () => {
    const once = after([WARN], [action(31, "acknowledge")]);
    expect(once.state).toBe("acknowledged");
    expect(after([WARN], [action(31, "acknowledge"), action(32, "acknowledge", { by: "desk-3" })])).toEqual(once);
    expect(once.log).toEqual(["2026-02-03 04:31 UTC, desk-2: acknowledged."]);
  });

  it("an acknowledged warning that is raised to a higher level is unacknowledged again", () => {
    expect(after([WATCH, WARN], [action(1, "acknowledge")]).state).toBe("unacknowledged");
    expect(after([WATCH, at(30, { level: "watch", change: "held" })], [action(1, "acknowledge")]).state).toBe("acknowledged");
  });

  it("every further reading at the limit must be acknowledged again", () => {
    const again = at(90, { level: "limit", change: "held", riseF: 180 });
    expect(after([LIMIT, again], [action(61, "acknowledge")]).state).toBe("unacknowledged");
  });

  it("an action from before the first level, by a clock that is behind, still counts as done after it", () => {
    expect(after([WARN], [action(-5, "acknowledge")]).state).toBe("acknowledged");
  });

  it("a watch that lapses is cleared, and a new raise opens it again", () => {
    const lapsed = at(40, { level: null, now: null, change: "lapsed" });
    expect(after([WATCH, lapsed], []).state).toBe("cleared");
    expect(after([WATCH, lapsed, at(50, { level: "watch" })], []).state).toBe("unacknowledged");
  });
});

describe("what the crew found", () => {
  it.each(["nothing-found", "wheel-or-brake"] as const)("%s clears a warn, and only a new rise or the limit brings it back", (found) => {
    const inspected = [action(35, "found", { found })];
    expect(after([WARN], inspected).state).toBe("cleared");
    const sameAgain = at(60, { level: "warn", change: "held", now: "warn", riseF: 80 + RULES.desk.riseAgainF - 1 });
    expect(after([WARN, sameAgain], inspected).state).toBe("cleared");
    const hotter = at(60, { level: "warn", change: "held", now: "warn", riseF: 80 + RULES.desk.riseAgainF });
    expect(after([WARN, hotter], inspected).state).toBe("unacknowledged");
    expect(after([WARN, LIMIT], inspected)).toMatchObject({ state: "unacknowledged", level: "limit" });
  });

  it("not inspected clears nothing", () => {
    const stands = after([WARN], [action(31, "acknowledge"), action(35, "found", { found: "not-inspected" })]);
    expect(stands.state).toBe("acknowledged");
    expect(stands.log.at(-1)).toContain("not inspected, so the warning stands");
  });

  it("a confirmed defect puts it out of service until it is returned; a reading at the limit calls out even then", () => {
    const confirmed = action(35, "found", { found: "defect-confirmed", text: "grease over the cup" });
    expect(after([WARN], [confirmed]).state).toBe("out-of-service");
    expect(after([WARN, at(60, { level: "warn", change: "held" })], [confirmed]).state).toBe("out-of-service");
    expect(after([WARN, LIMIT], [confirmed]).state).toBe("unacknowledged");
    expect(after([WARN], [confirmed, action(600, "return-to-service")]).state).toBe("cleared");
    expect(after([WARN], [action(40, "return-to-service")]).state).toBe("unacknowledged");
  });
});

describe("a shelf", () => {
  const until = (minute: number) => ({ until: new Date(START_MS + minute * MINUTE).toISOString() });

  it("ends by itself, and gives back the state from before", () => {
    const actions = [action(31, "acknowledge"), action(32, "shelve", until(90))];
    expect(after([WARN], actions, START_MS + 89 * MINUTE).state).toBe("shelved");
    expect(after([WARN], actions, START_MS + 90 * MINUTE).state).toBe("acknowledged");
    expect(after([WARN], [action(32, "shelve", until(90)), action(40, "unshelve")]).state).toBe("unacknowledged");
  });

  it("is no longer than the rules allow, also when no end was given", () => {
    const longest = START_MS + (32 + RULES.desk.shelveMaxHours * 60) * MINUTE;
    for (const wish of [until(5000), {}]) expect(after([WARN], [action(32, "shelve", wish)], longest - 1).shelf?.untilMs).toBe(longest);
  });

  it("is not possible for a limit, and a raise takes a warning out of it", () => {
    expect(after([LIMIT], [action(61, "shelve", until(90))], START_MS + 62 * MINUTE).state).toBe("unacknowledged");
    expect(after([WATCH, WARN], [action(1, "shelve", until(90))], START_MS + 31 * MINUTE).state).toBe("unacknowledged");
  });
});

const anyAction = fc.record({
  minute: fc.integer({ min: 0, max: 200 }),
  what: fc.constantFrom<DeskAction["action"]>("acknowledge", "assign", "note", "found", "shelve", "unshelve", "return-to-service"),
  found: fc.constantFrom("defect-confirmed" as const, "nothing-found" as const, "wheel-or-brake" as const, "not-inspected" as const),
});
const anyActions = fc
  .array(anyAction, { maxLength: 12 })
  .map((all) => all.map(({ minute, what, found }, i) => action(minute, what, { id: `B-${i}`, found, to: "car inspector", text: "seen" })));
const anyDecisions = fc
  .array(
    fc.record({ minute: fc.integer({ min: 1, max: 40 }), level: fc.constantFrom("watch" as const, "warn" as const, "limit" as const) }),
    { minLength: 1, maxLength: 6 },
  )
  .map((all) => {
    let minute = 0;
    let level: Decision["level"] = null;
    return all.map((one) => {
      minute += one.minute;
      const change = rank(one.level) > rank(level) ? "raised" : "held";
      level = change === "raised" ? one.level : level;
      return at(minute, { level, now: one.level, change });
    });
  });

describe("whatever is done", () => {
  it("the order in which actions came in and repeats of them change nothing", () => {
    fc.assert(
      fc.property(anyDecisions, anyActions, fc.infiniteStream(fc.nat()), (decisions, actions, dice) => {
        const shuffled = [...actions, ...actions].map((one) => ({ one, key: dice.next().value! })).sort((a, b) => a.key - b.key);
        expect(
          after(
            decisions,
            shuffled.map(({ one }) => one),
          ),
        ).toEqual(after(decisions, actions));
      }),
      RUNS,
    );
  });

  it("a warning whose last event is a reading at the limit is unacknowledged and says limit", () => {
    fc.assert(
      fc.property(anyDecisions, anyActions, (decisions, actions) => {
        const last = at(500, { level: "limit", now: "limit", change: "held", riseF: 190 });
        expect(after([...decisions, last], actions)).toMatchObject({ state: "unacknowledged", level: "limit" });
      }),
      RUNS,
    );
  });

  it("without an inspection result a warn or limit is never cleared", () => {
    fc.assert(
      fc.property(anyDecisions, anyActions, (decisions, actions) => {
        const open = decisions.some(({ level }) => level !== "watch");
        const inspected = actions.some(({ action, found }) => action === "found" && found !== "not-inspected");
        if (open && !inspected) expect(["unacknowledged", "acknowledged", "shelved"]).toContain(after(decisions, actions).state);
      }),
      RUNS,
    );
  });
});
