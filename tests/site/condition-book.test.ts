import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { siteCondition } from "../../src/feed/outbound/site-conditions.ts";
import type { DeskAction } from "../../src/feed/record.ts";
import { CONDITION_KINDS, type ConditionKind, type SiteCondition } from "../../src/site/condition.ts";
import { ConditionBook, type Finding, MOST_OPEN_CONDITIONS } from "../../src/site/condition-book.ts";
import { at, iso } from "./watching.ts";

function finding(minute: number, over: Partial<Finding> = {}): Finding {
  return {
    site: "birch-29",
    device: "1/left",
    kind: "drift",
    atMs: at(minute),
    words: "It reads off.",
    advice: "Have it calibrated.",
    evidence: `pass ${minute}`,
    ...over,
  };
}

let actions = 0;
function action(minute: number, what: DeskAction["action"], over: Partial<DeskAction> = {}): DeskAction {
  return { type: "desk-action", id: `a-${++actions}`, time: iso(minute), by: "desk", action: what, site: "birch-29", ...over };
}

function book() {
  const out: SiteCondition[] = [];
  return { book: new ConditionBook((condition) => out.push(condition)), out };
}

const alarms = (out: readonly SiteCondition[]) => out.map(({ state, alarm }) => `${state} ${alarm}`);
const HOURS = 72;

describe("alarm states of a condition (IEC 62682)", () => {
  it("raised it waits for an answer; answered and over, nothing is left to do", () => {
    const { book: one, out } = book();
    one.raise(finding(0));
    one.act(action(5, "acknowledge", { by: "night desk" }), HOURS);
    one.clear("birch-29", "1/left", "drift", at(30), "it reads well");
    expect(alarms(out)).toEqual(["raised unacknowledged", "raised acknowledged", "cleared normal"]);
    expect(out[1]?.by).toBe("night desk");
    expect(out.map(({ version }) => version)).toEqual([1, 2, 3]);
  });

  it("over before anybody answered, it still asks for an answer, once", () => {
    const { book: one, out } = book();
    one.raise(finding(0));
    one.clear("birch-29", "1/left", "drift", at(30), "it reads well");
    const id = out[0]!.id;
    expect(one.act(action(40, "acknowledge", { condition: id }), HOURS)).toBe(true);
    expect(one.act(action(41, "acknowledge", { condition: id }), HOURS)).toBe(false);
    expect(alarms(out)).toEqual(["raised unacknowledged", "cleared returned-unacknowledged", "cleared normal"]);
  });

  it("shelved with a reason and an end, it comes back by itself when the shelf ends", () => {
    const { book: one, out } = book();
    one.raise(finding(0));
    one.act(action(5, "shelve", { text: "part is ordered", until: iso(65) }), HOURS);
    expect(out.at(-1)).toMatchObject({ alarm: "shelved", reason: "part is ordered", until: iso(65) });
    one.tick(at(64));
    expect(out.at(-1)?.alarm).toBe("shelved");
    one.tick(at(66));
    expect(out.at(-1)).toMatchObject({ alarm: "unacknowledged", state: "raised" });
    expect(out.at(-1)?.until).toBeUndefined();
  });

  it("no shelf without a reason or an end, and none longer than the rules allow", () => {
    const { book: one, out } = book();
    one.raise(finding(0));
    one.act(action(5, "shelve", { until: iso(65) }), HOURS);
    one.act(action(6, "shelve", { text: "later" }), HOURS);
    one.act(action(7, "shelve", { text: "too late", until: iso(1) }), HOURS);
    expect(out.length).toBe(1);
    one.act(action(10, "shelve", { text: "part is ordered", until: iso(60 * 24 * 365) }), HOURS);
    expect(out.at(-1)?.until).toBe(iso(10 + 60 * HOURS));
  });

  it("one action can answer one condition, one device or a whole site", () => {
    const { book: one, out } = book();
    one.raise(finding(0));
    one.raise(finding(0, { device: "1/right" }));
    one.raise(finding(0, { site: "alder-14" }));
    one.act(action(5, "acknowledge", { device: "1/right" }), HOURS);
    expect(out.slice(3).map(({ device }) => device)).toEqual(["1/right"]);
    one.act(action(6, "acknowledge"), HOURS);
    expect(out.slice(4).map(({ site, device }) => [site, device])).toEqual([["birch-29", "1/left"]]);
  });

  it("nothing is raised about a device that is out of service", () => {
    const out: SiteCondition[] = [];
    const one = new ConditionBook(
      (condition) => out.push(condition),
      (site, device) => site === "birch-29" && device.startsWith("1/"),
    );
    one.raise(finding(0));
    one.raise(finding(0, { device: "2/left" }));
    expect(out.map(({ device }) => device)).toEqual(["2/left"]);
  });

  it("what goes on adds evidence, and says so again no sooner than after an hour", () => {
    const { book: one, out } = book();
    for (let minute = 0; minute <= 150; minute += 10) one.raise(finding(minute));
    expect(out.map(({ time }) => time)).toEqual([iso(0), iso(60), iso(120)]);
    expect(out.at(-1)?.evidence.length).toBe(5);
  });

  it("for no length of time are more open than the limit; what is not raised is counted", () => {
    const { book: one, out } = book();
    for (let k = 0; k < MOST_OPEN_CONDITIONS + 7; k++) one.raise(finding(0, { site: `s-${k}` }));
    expect([out.length, one.openCount, one.overflowed]).toEqual([MOST_OPEN_CONDITIONS, MOST_OPEN_CONDITIONS, 7]);
  });

  it("whatever happens in whatever order: versions of an id rise by one, an id never lives again, and every record fits the published shape", () => {
    const steps = fc.array(
      fc.record({
        what: fc.constantFrom("raise", "clear", "acknowledge", "shelve", "unshelve", "tick"),
        device: fc.constantFrom("1/left", "1/right"),
        kind: fc.constantFrom<ConditionKind>("drift", "cold-scanner"),
      }),
      { maxLength: 60 },
    );
    fc.assert(
      fc.property(steps, (all) => {
        const { book: one, out } = book();
        all.forEach(({ what, device, kind }, k) => {
          const minute = k * 20;
          if (what === "raise") one.raise(finding(minute, { device, kind }));
          else if (what === "clear") one.clear("birch-29", device, kind, at(minute), "over");
          else if (what === "tick") one.tick(at(minute));
          else one.act(action(minute, what as "acknowledge", { device, text: "why", until: iso(minute + 50) }), HOURS);
        });
        const versions = new Map<string, SiteCondition>();
        for (const condition of out) {
          const before = versions.get(condition.id);
          expect(condition.version).toBe((before?.version ?? 0) + 1);
          if (before?.state === "cleared") expect(condition).toMatchObject({ state: "cleared", alarm: "normal" });
          expect(siteCondition.safeParse(condition).success).toBe(true);
          versions.set(condition.id, condition);
        }
      }),
      { numRuns: 300 },
    );
  });

  it("written down and read back, it goes on as if it had never stopped", () => {
    const { book: one, out } = book();
    one.raise(finding(0));
    one.act(action(5, "shelve", { text: "part is ordered", until: iso(65) }), HOURS);
    const { book: two, out: out2 } = book();
    two.restore(JSON.parse(JSON.stringify(one.state())));
    out.length = 0;
    for (const each of [one, two]) {
      each.tick(at(70));
      each.clear("birch-29", "1/left", "drift", at(80), "over");
    }
    expect(out2).toEqual(out);
  });

  it("every kind has its urgency, and only what nobody must answer is none", () => {
    const { book: one, out } = book();
    for (const kind of CONDITION_KINDS) one.raise(finding(0, { kind }));
    expect(out.filter(({ priority }) => priority === "information").map(({ kind }) => kind)).toEqual(["out-of-service", "sun"]);
    expect(out.every(({ priority, alarm }) => (priority === "information") === (alarm !== "unacknowledged"))).toBe(true);
  });
});
