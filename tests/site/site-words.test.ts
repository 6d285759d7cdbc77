import { describe, expect, it } from "vitest";
import type { SiteCondition } from "../../src/site/condition.ts";
import { deviceWords } from "../../src/site/condition-words.ts";
import { SiteWords } from "../../src/site/site-words.ts";
import { demoRailroad, fold, simulated } from "../flow/folded.ts";

const railroad = demoRailroad();
const said = new SiteWords(railroad);

describe("how sites are told of to people", () => {
  it("by the name in the line file, with track and rail in words", () => {
    expect(said.site("alder-14")).toBe("Alder");
    expect(said.track("alder-14", "2")).toBe("Alder track 2");
    expect(said.device("alder-14", "1")).toBe("Alder track 1");
    expect(said.device("alder-14", "1/left")).toBe("the left bearing scanner of Alder track 1");
    expect(said.device("alder-14", "1/wheel-left")).toBe("the left wheel scanner of Alder track 1");
    expect(said.device("alder-14", "dragging")).toBe("the dragging detector of Alder");
    expect(said.device("alder-14", "high-left")).toBe("the left high detector of Alder");
    expect(said.device("alder-14", "heater")).toBe("the heater of Alder");
    expect(said.device("alder-14", "1/heater-2")).toBe("the heater 2 of Alder track 1");
    expect(said.sites(["alder-14", "brock-27", "no-such-site"])).toBe("Alder, Brock and no-such-site");
  });

  it("a name alone is a track where the line says so, else where it looks like one, else a device", () => {
    expect(["1", "2E", "main", "main-2", "siding", "north-main"].map((name) => deviceWords(name))).toEqual([
      "track 1",
      "track 2E",
      "track main",
      "track main-2",
      "track siding",
      "track north-main",
    ]);
    expect(["heater", "power", "radio", "announcement", "dragging"].map((name) => deviceWords(name))).toEqual([
      "heater",
      "power",
      "radio",
      "announcement",
      "dragging detector",
    ]);
    expect(deviceWords("river", (name) => name === "river")).toBe("track river");
  });

  it("in the time of the railroad, summer and winter", () => {
    expect(said.time(Date.parse("2026-03-04T05:06:07.890Z"))).toBe("23:06 CST on 3 March");
    expect(said.time(Date.parse("2026-07-04T05:06:07.890Z"))).toBe("00:06 CDT on 4 July");
  });

  it("no condition of a sick day holds a site's id, a time of a machine or a code", { timeout: 60_000 }, () => {
    const { feed } = simulated({ seed: 42, hours: 16, world: "sick", trainsPerDay: 60 }, railroad);
    const conditions = fold(feed, railroad).conditions.map((json) => JSON.parse(json) as SiteCondition);
    expect(new Set(conditions.map(({ kind }) => kind)).size).toBeGreaterThan(2);
    const ids = [...railroad.sites.keys()];
    for (const { words, evidence } of conditions) {
      // A pass is named by its id in the evidence, so that it can be found.
      const text = [words, ...evidence.map((one) => one.replace(/\S+@\S+/g, ""))].join(" ");
      expect(
        ids.filter((id) => text.includes(id)),
        text,
      ).toEqual([]);
      expect(text).not.toMatch(/\d{4}-\d\d-\d\dT|[a-z]+-reversed|hot-bearing/);
    }
  });
});
