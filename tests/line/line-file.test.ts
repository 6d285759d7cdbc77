import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { loadLine, readLine } from "../../src/line/line-file.ts";
import { MAX_SITES } from "../../src/line/line-schema.ts";
import { type GeneratedFile, generatedRailroad } from "./generated-railroad.ts";

const HEAD = `railroad: { id: test, name: Test, timeZone: America/Chicago }
units: { temperature: F, reading: above-ambient, gap: in, speed: mph }
`;
const SITES = `sites:
  - { id: a-10, name: A, line: Main, milepost: 10, kind: main, tracks: [{ id: 1 }, { id: 2 }] }
  - { id: b-25, name: B, line: Main, milepost: 25, kind: main, tracks: [{ id: 1 }] }
  - { id: c-40, name: C, line: Main, milepost: 40, kind: main, tracks: [{ id: 1 }] }
`;
const LINKS = `links:
  - { from: a-10, to: b-25, miles: 15, fastestMph: 60, tracks: [[1, 1], [2, 1]] }
  - { from: b-25, to: c-40, miles: 15, fastestMph: 60, tracks: [[1, 1]] }
`;
const CORRIDORS = "corridors:\n  - { id: main, name: Main, sites: [a-10, b-25, c-40] }\n";

/** `line code path -> what the file says at that column` of each mistake. */
function mistakesIn(text: string): string[] {
  const lines = text.split("\n");
  return readLine(text, "line.yaml").mistakes.map((m) => {
    const pointedAt = lines[m.line - 1]!.slice(m.column - 1).match(/^(\[[^\]]*\]|[^,}\]:]*)/)![0];
    return `${m.line} ${m.code} ${m.path} -> ${pointedAt.trim()}`;
  });
}

function withLinks(...links: string[]): string[] {
  return mistakesIn(HEAD + SITES + "links:\n" + links.map((link) => `  - { ${link} }\n`).join("") + CORRIDORS);
}

const AB = "from: a-10, to: b-25, miles: 15, fastestMph: 60, tracks: [[1, 1]]";
const BC = "from: b-25, to: c-40, miles: 15, fastestMph: 60, tracks: [[1, 1]]";
const place = (id: string, miles: number, more = "milepost: 12, name: P, carLengths: 9") =>
  `{ id: ${id}, miles: ${miles}, tracks: [1], ${more} }`;

describe("a line file", () => {
  test("becomes a railroad; trains go both ways over a link, units are those of the file unless a site has its own", () => {
    const own = SITES.replace("milepost: 25, kind: main,", "milepost: 25, kind: main, units: { temperature: C, reading: absolute },");
    const { railroad, mistakes } = readLine(HEAD + own + LINKS + CORRIDORS, "line.yaml");
    expect(mistakes).toEqual([]);
    expect(railroad!.ahead("a-10", "2", "rising", 2).map((way) => [way.site, way.miles, way.direction])).toEqual([
      ["b-25", 15, "rising"],
      ["c-40", 30, "rising"],
    ]);
    expect(railroad!.ahead("b-25", "1", "falling", 1)).toMatchObject([
      { site: "a-10", tracks: ["1", "2"], direction: "falling", fastestHours: 0.25 },
    ]);
    expect(railroad!.ahead("c-40", "1", "rising", 4)).toEqual([]);
    expect(railroad!.sites.get("b-25")!.units).toEqual({ temperature: "C", reading: "absolute", gap: "in", speed: "mph" });
    expect(railroad!.sites.get("a-10")!.tracks).toEqual([
      { id: "1", wheel: true },
      { id: "2", wheel: true },
    ]);
    expect(railroad!.demonstration).toBe(false);
  });

  test("with mistakes inside entries and across them gives all of them in one run", () => {
    const text = `railroad: { id: test, name: Test, timeZone: America/Chicgo }
units: { temperature: K, reading: above-ambient, gap: in, speed: mph }
sites:
  - { id: a-10, name: A, line: Main, milepost: 10, kind: main, tracks: [{ id: 1 }] }
  - { id: b-25, name: B, line: Main, milepost: -25, kind: main, tracks: [{ id: 1 }] }
  - { id: a-10, name: C, line: Main, milepost: 40, kind: main, trakcs: [{ id: 1 }] }
  - { id: d-90, name: D, line: Main, milepost: 90, kind: main, tracks: [{ id: 1 }] }
links:
  - { from: a-10, to: b-52, miles: 15, fastestMph: 60, tracks: [[1, 1]] }
  - { from: a-10, to: d-90, miles: 15, fastestMph: 60, tracks: [[1, 7]] }
corridors:
  - { id: main, name: Main, sites: [a-10, b-25, c-40] }
`;
    expect(mistakesIn(text)).toEqual([
      "1 bad-time-zone railroad.timeZone -> America/Chicgo",
      "2 not-one-of units.temperature -> K",
      "5 out-of-range sites[1].milepost -> -25",
      "6 missing sites[2].tracks -> { id",
      "6 duplicate-site sites[2].id -> a-10",
      "6 unknown-key sites[2].trakcs -> trakcs",
      "7 site-without-corridor sites[3].id -> d-90",
      "9 unknown-site links[0].to -> b-52",
      "10 unknown-track links[1].tracks[0][1] -> 7",
      "12 unknown-site corridors[0].sites[2] -> c-40",
    ]);
    expect(readLine(text, "line.yaml").mistakes.find((m) => m.path === "links[0].to")!.advice).toBe("Did you mean b-25?");
  });

  test("refuses a link to nowhere, to itself, twice, or on a track that is not there", () => {
    expect(withLinks(AB, BC, "from: c-40, to: x-60, miles: 9, fastestMph: 60, tracks: [[1, 1]]")).toEqual([
      "10 unknown-site links[2].to -> x-60",
    ]);
    expect(withLinks(AB, BC, "from: c-40, to: c-40, miles: 9, fastestMph: 60, tracks: [[1, 1]]")).toEqual([
      "10 link-to-itself links[2].to -> c-40",
    ]);
    expect(
      withLinks(AB, BC, "from: b-25, to: a-10, leaves: falling, arrives: falling, miles: 15, fastestMph: 60, tracks: [[1, 2]]")[0],
    ).toBe("10 link-twice links[2].from -> b-25");
    expect(withLinks(AB, BC.replace("[[1, 1]]", "[[1, 2], [1, 1], [1, 1]]"))).toEqual([
      "9 unknown-track links[1].tracks[0][1] -> 2",
      "9 track-pair-twice links[1].tracks[2] -> [1, 1]",
    ]);
  });

  test("must say the directions where mileposts do not rise along one line", () => {
    const falling = SITES.replace("milepost: 40", "milepost: 4");
    expect(mistakesIn(HEAD + falling + LINKS + CORRIDORS)).toEqual(["9 directions-needed links[1] -> { from"]);
    const said = LINKS.replace("b-25, to: c-40,", "b-25, to: c-40, leaves: rising, arrives: rising,");
    expect(mistakesIn(HEAD + falling + said + CORRIDORS)).toEqual([]);
  });

  test("cannot have two neighbours of one line at the same end of a site: one direction must be wrong", () => {
    expect(withLinks(AB, `${BC}, leaves: falling, arrives: falling`)).toEqual(["9 directions-contradict links[1].leaves -> falling"]);
  });

  test("may have a branch there, which is a line of its own", () => {
    const branch = SITES.replace("line: Main, milepost: 40", "line: Branch, milepost: 4");
    const links = `links:\n  - { ${AB} }\n  - { ${BC}, leaves: falling, arrives: rising }\n`;
    const { railroad, mistakes } = readLine(HEAD + branch + links + CORRIDORS, "line.yaml");
    expect(mistakes).toEqual([]);
    expect(railroad!.ahead("b-25", "1", "falling", 1).map((way) => way.site)).toEqual(["a-10", "c-40"]);
  });

  test("keeps set-out places inside their link, once, on tracks that are there", () => {
    const set = (...places: string[]) => withLinks(`${AB}, setOuts: [${places.join(", ")}]`, BC);
    expect(set(place("p", 15))).toEqual(["8 set-out-beyond-link links[0].setOuts[0].miles -> 15"]);
    expect(set(place("p", 3), place("p", 4))).toEqual(["8 duplicate-set-out links[0].setOuts[1].id -> p"]);
    expect(set(place("p", 3).replace("[1]", "[1, 3]"))).toEqual(["8 unknown-track links[0].setOuts[0].tracks[1] -> 3"]);
  });

  test("may name one set-out place on two links, before a junction, as the same place only", () => {
    const on = (second: string) => withLinks(`${AB}, setOuts: [${place("p", 3)}]`, `${BC}, setOuts: [${second}]`);
    expect(on(place("p", 4))).toEqual([]);
    expect(on(place("p", 4, "milepost: 12, name: Q, carLengths: 9"))).toEqual(["9 set-out-contradicts links[1].setOuts[0].id -> p"]);
  });

  test("gives every site to exactly one corridor, which hangs together with its lead-in sites", () => {
    const corridors = (...lines: string[]) =>
      mistakesIn(HEAD + SITES + LINKS + "corridors:\n" + lines.map((l) => `  - { ${l} }\n`).join(""));
    expect(corridors("id: w, name: W, sites: [a-10, b-25], leadIn: [c-40]", "id: e, name: E, sites: [c-40], leadIn: [b-25, a-10]")).toEqual(
      [],
    );
    expect(corridors("id: w, name: W, sites: [a-10, b-25]")).toEqual(["6 site-without-corridor sites[2].id -> c-40"]);
    expect(corridors("id: w, name: W, sites: [a-10, b-25]", "id: w, name: E, sites: [b-25, c-40]")).toEqual([
      "12 duplicate-corridor corridors[1].id -> w",
      "12 site-in-two-corridors corridors[1].sites[0] -> b-25",
    ]);
    expect(corridors("id: w, name: W, sites: [a-10, c-40]", "id: e, name: E, sites: [b-25], leadIn: [b-25]")).toEqual([
      "11 corridor-apart corridors[0].sites[1] -> c-40",
      "12 lead-in-owned corridors[1].leadIn[0] -> b-25",
    ]);
    expect(
      corridors("id: w, name: W, sites: [a-10]", "id: m, name: M, sites: [b-25]", "id: e, name: E, sites: [c-40], leadIn: [a-10]"),
    ).toEqual(["13 lead-in-apart corridors[2].leadIn[0] -> a-10"]);
  });

  test("tells the owner of a site before the corridors that it leads into", () => {
    const corridors =
      "corridors:\n  - { id: w, name: W, sites: [a-10], leadIn: [b-25] }\n  - { id: e, name: E, sites: [b-25, c-40], leadIn: [a-10] }\n";
    const { railroad } = readLine(HEAD + SITES + LINKS + corridors, "line.yaml");
    expect(railroad!.corridorsOf("b-25")).toEqual(["e", "w"]);
    expect(railroad!.corridorsOf("c-40")).toEqual(["e"]);
    expect(railroad!.corridorsOf("nowhere")).toEqual([]);
  });

  test("is bounded: too many sites are refused", () => {
    const sites = Array.from(
      { length: MAX_SITES + 1 },
      (_, i) => `  - { id: s${i}, name: S, line: M, milepost: 1, kind: m, tracks: [{ id: 1 }] }\n`,
    );
    const corridors = `corridors:\n  - { id: c, name: C, sites: [${Array.from({ length: MAX_SITES + 1 }, (_, i) => `s${i}`).join(", ")}] }\n`;
    const codes = readLine(HEAD + "sites:\n" + sites.join("") + corridors, "line.yaml").mistakes.map((m) => m.path);
    expect(codes).toContain("sites");
  });

  test("that cannot be read is a mistake, not an exception", () => {
    expect(loadLine("/nonexistent/line.yaml").mistakes).toMatchObject([{ code: "file-unreadable", file: "/nonexistent/line.yaml" }]);
    expect(loadLine(import.meta.dirname).mistakes).toMatchObject([{ code: "file-unreadable" }]);
  });

  test("spoilt anywhere gives mistakes with a place, or a railroad, and never throws", () => {
    fc.assert(
      fc.property(generatedRailroad, fc.nat(), fc.constantFrom(null, "", -1, 1e9, true, [], {}, "rising", "s0"), (file, pick, spoilt) => {
        const text = spoil(file, pick, spoilt);
        const { railroad, mistakes } = readLine(text, "f");
        expect(railroad === null).toBe(mistakes.length > 0);
        for (const mistake of mistakes) expect(mistake.line >= 1 && mistake.column >= 1 && mistake.says !== "").toBe(true);
      }),
      { seed: 11, numRuns: 150 },
    );
  });
});

/** Replaces one value anywhere in the file. */
function spoil(file: GeneratedFile, pick: number, spoilt: unknown): string {
  let count = 0;
  JSON.stringify(file, (_key, value) => {
    count++;
    return value;
  });
  let index = 0;
  return JSON.stringify(file, (_key, value) => (index++ === pick % count ? spoilt : value), 1) ?? "";
}
