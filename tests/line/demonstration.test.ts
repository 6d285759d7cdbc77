import { describe, expect, test } from "vitest";
import { loadLine, readLine } from "../../src/line/line-file.ts";

const { railroad, mistakes } = loadLine("replay-data/line.yaml");
const demo = railroad!;

describe("the railroad of the demonstration", () => {
  test("is sound, and says that it is invented", () => {
    expect(mistakes).toEqual([]);
    expect(demo.demonstration).toBe(true);
  });

  test("has two neighbouring corridors, single and double track, both temperature units, with and without wheel scanners", () => {
    const sites = [...demo.sites.values()];
    expect(demo.corridors).toHaveLength(2);
    expect(demo.corridors.every((corridor) => corridor.leadIn.length > 0)).toBe(true);
    expect(sites.length).toBeGreaterThanOrEqual(16);
    expect(new Set(sites.map((site) => site.tracks.length))).toEqual(new Set([1, 2]));
    expect(new Set(sites.map((site) => `${site.units.temperature} ${site.units.reading}`))).toEqual(
      new Set(["F above-ambient", "C absolute", "C above-ambient"]),
    );
    expect(new Set(sites.flatMap((site) => site.tracks.map((track) => track.wheel)))).toEqual(new Set([true, false]));
  });

  // TRADE 2: 10 to 40 miles between sites in practice [S], averages 13.9 and 14.9 [S]; the demonstration also has one of 9.
  test("has its sites as far apart as railroads have", () => {
    for (const link of demo.links) expect(link.miles >= 9 && link.miles <= 40).toBe(true);
  });

  test("leads from every site to every other, in both directions", () => {
    const reached = new Set(["alder-14 rising"]);
    for (const state of reached) {
      const [site, direction] = state.split(" ") as [string, "rising" | "falling"];
      for (const track of demo.sites.get(site)!.tracks) {
        for (const way of demo.ahead(site, track.id, direction, 1)) reached.add(`${way.site} ${way.direction}`);
      }
    }
    expect(new Set([...reached].map((state) => state.split(" ")[0]))).toEqual(
      new Set([...demo.sites.keys()].filter((id) => id === "alder-14" || reached.has(`${id} rising`) || reached.has(`${id} falling`))),
    );
    expect(reached.size).toBe(demo.sites.size);
  });

  test("gives a train before the junction both ways on", () => {
    expect(demo.ahead("dunmere-53", "2", "rising", 1).map((way) => way.site)).toEqual(["sable-11", "elmrigg-72"]);
  });

  test("counts miles along the links where mileposts jump and where they fall", () => {
    const way = demo.ahead("elmrigg-72", "1", "rising", 4).at(-1)!;
    expect(way).toMatchObject({ site: "kestrel-212", direction: "falling", miles: 90, over: ["fennick-131", "garrow-160", "hollin-178"] });
  });

  test("has links without a set-out place, and places that only trains of one direction can use", () => {
    expect(demo.links.some((link) => link.setOuts.length === 0)).toBe(true);
    const places = demo.links.flatMap((link) => link.setOuts);
    expect(places.some((place) => !place.forward) && places.some((place) => !place.backward)).toBe(true);
  });
});

describe("three published sites", () => {
  // TRADE 1.1, NTSB RRD23MR005: mileposts 79.9, 69.01, 49.81 falling in the direction of travel [S]; legs of 10.89 and 19.20 miles [D].
  test("lie 10.89 and 30.09 miles ahead of a train with falling mileposts", () => {
    const site = (id: string, milepost: number) => ({ id, name: id, line: "M", milepost, kind: "main", tracks: [{ id: "1" }] });
    const link = (from: string, to: string, miles: number) => ({ from, to, miles, tracks: [["1", "1"]], fastestMph: 60 });
    const file = {
      railroad: { id: "published", name: "Published", timeZone: "America/New_York" },
      units: { temperature: "F", reading: "above-ambient", gap: "in", speed: "mph" },
      sites: [site("first", 79.9), site("second", 69.01), site("third", 49.81)],
      links: [link("third", "second", 19.2), link("second", "first", 10.89)],
      corridors: [{ id: "c", name: "C", sites: ["first", "second", "third"] }],
    };
    const published = readLine(JSON.stringify(file), "published.yaml").railroad!;
    expect(published.ahead("first", "1", "falling", 2).map((way) => [way.site, way.miles])).toEqual([
      ["second", 10.89],
      ["third", 30.09],
    ]);
  });
});
