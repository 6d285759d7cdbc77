import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { gzipSync } from "node:zlib";
import { afterAll, describe, expect, test } from "vitest";
import { parse } from "yaml";
import { check } from "../../src/replay/check.ts";
import { EXIT } from "../../src/replay/exit-status.ts";

const LINE = "replay-data/line.yaml";
const RULES = "replay-data/rules/standard";

const folder = mkdtempSync(join(tmpdir(), "bearing-rise-check-"));
afterAll(() => rmSync(folder, { recursive: true }));

function file(name: string, content: string | Uint8Array): string {
  const path = join(folder, name);
  writeFileSync(path, content);
  return path;
}

const begun = (site: string, pass: string, time = "2026-03-04T05:06:07.000Z") =>
  JSON.stringify({
    topic: "axle-readings",
    key: `${site}/1`,
    value: { type: "pass-begun", site, track: "1", pass, time, direction: "rising" },
  });
const axles = JSON.stringify({
  topic: "axle-readings",
  key: "alder-14/1",
  value: {
    type: "axles",
    site: "alder-14",
    track: "1",
    pass: "1",
    first: 1,
    ms: [0, 85],
    gap: [null, 70],
    left: { bearing: [30, 31] },
    right: { bearing: [29, null] },
  },
});

describe("checking a railroad's files before a feed is folded", () => {
  test("prints what was understood: corridors, sites, links, set-out places, rules", async () => {
    const { ok, status, text, json } = await check(LINE, RULES, null);
    expect(json.mistakes).toEqual([]);
    expect([ok, status]).toEqual([true, EXIT.done]);
    expect(text).toContain("18 sites, 17 links of 319.6 miles, 25 set-out places, 2 corridors");
    expect(text).toMatch(/garrow-160 +Alder Line +160\.00 +1 +1 +°C absolute, mm, km\/h +main/);
    expect(text).toMatch(/hollin-178 +kestrel-212 +24\.00 .*rising, then falling, other line/);
    expect(text).toMatch(/elmrigg-72 +fennick-131 +18\.90 .*rising, jump/);
    expect(text).toContain("limits in °F above ambient");
    expect(text).toMatch(/warn at a chance of .* within 120\.0 miles, from 2 readings on/);
    expect(json.feed).toBeNull();
  });

  test("prints all mistakes of the line file with their place and the line itself, and goes on with the rest", async () => {
    const line = file("line.yaml", "railroad: { id: x, name: X, timeZone: Mars/North }\nunits: {}\nsites: []\ncorridors: []\n");
    const { ok, status, text, json } = await check(line, RULES, file("one.jsonl", `${begun("nowhere", "1")}\n`));
    expect([ok, status]).toEqual([false, EXIT.lineOrRules]);
    expect(json.mistakes.map((mistake) => mistake.code)).toEqual(expect.arrayContaining(["bad-time-zone", "missing", "out-of-range"]));
    expect(text).toContain(`${line}:1:39 bad-time-zone at railroad.timeZone`);
    expect(text).toContain("    | railroad: { id: x, name: X, timeZone: Mars/North }");
    expect(text).toContain("1 record: 1 readable");
    expect(text).not.toContain("does not know");
  });

  test("says that files are not there instead of failing", async () => {
    const { status, json } = await check(join(folder, "no-line.yaml"), join(folder, "no-rules"), join(folder, "no-feed"));
    expect(status).toBe(EXIT.lineOrRules);
    expect(json.mistakes.map((mistake) => mistake.code)).toEqual(["file-unreadable", "file-unreadable"]);
    expect(json.feed).toMatchObject({ records: 0, error: { code: "FEED-101 not-found" } });
  });

  test("a file of which no record can be used is no feed, and what is wrong stands last", async () => {
    const { ok, status, text } = await check(LINE, RULES, file("prose.txt", "These are\nnot records.\n"));
    expect([ok, status]).toEqual([false, EXIT.feed]);
    expect(text.trimEnd().split("\n").at(-1)).toBe("To be mended: no record of the feed can be used.");
    const wrong = await check(file("wrong.yaml", "sites: []\n"), RULES, null);
    expect(wrong.text.indexOf("Rules ")).toBeLessThan(wrong.text.indexOf("Line file "));
    expect(wrong.text.trimEnd().split("\n").at(-1)).toMatch(/^To be mended: \d+ mistakes in the line file\.$/);
  });

  test("counts a feed by topic and type, and rejected records by reason with the first lines", async () => {
    const lines = [
      begun("alder-14", "1"),
      axles,
      "{",
      begun("alder-14", "2", "yesterday"),
      "{",
      "{",
      "{",
      begun("brock-27", "1", "2026-03-04T07:00:00.000Z"),
    ];
    const { ok, status, text, json, rejectedRecords } = await check(LINE, RULES, file("feed.jsonl", lines.join("\n")));
    expect([ok, status, rejectedRecords]).toEqual([true, EXIT.done, 5]);
    expect(json.feed).toMatchObject({
      records: 8,
      accepted: 3,
      rejected: 5,
      axles: 2,
      types: { "axle-readings axles": 1, "axle-readings pass-begun": 2 },
      reasons: [
        { name: "FEED-002 not-json", count: 4, places: ["line 3", "line 5", "line 6"] },
        { name: "FEED-012 not-a-time", count: 1, places: ["line 4 at time"] },
      ],
      span: { from: "2026-03-04T05:06:07.000Z", to: "2026-03-04T07:00:00.000Z" },
      unknown: [],
      error: null,
    });
    expect(text).toContain("4 FEED-002 not-json: line 3, line 5, line 6, ...");
  });

  test("names sites and tracks that the line file does not know, a bounded number of them", async () => {
    const many = Array.from({ length: 300 }, (_, i) => begun(`ghost-${i}`, "1"));
    const lines = [begun("alder-14", "1").replace('"track":"1"', '"track":"7"'), ...many];
    const { json, text } = await check(LINE, RULES, file("ghosts.jsonl", lines.join("\n")));
    const feed = json.feed as { unknown: { name: string }[]; unknownBeyond: number };
    expect(feed.unknown).toHaveLength(200);
    expect(feed.unknown[0]).toEqual({ name: "alder-14/7", count: 1, places: ["line 1"] });
    expect(feed.unknownBeyond).toBe(101);
    expect(text).toContain("and 101 records of still other sites");
  });

  test("counts what could be read of a feed that breaks off, and says so", async () => {
    const whole = gzipSync(Array.from({ length: 5000 }, (_, i) => begun("alder-14", String(i))).join("\n"));
    const { ok, status, json } = await check(LINE, RULES, file("cut.jsonl.gz", whole.subarray(0, whole.length / 2)));
    expect([ok, status]).toEqual([false, EXIT.feed]);
    expect(json.feed).toMatchObject({ rejected: 0, error: { code: "FEED-104 cut-short" } });
  });
});

describe("what is sound but worth a look", () => {
  const two = (corridors: string, more = "", tracks = "[[1, 1]]") =>
    file(
      "two.yaml",
      `railroad: { id: x, name: X, timeZone: UTC }
units: { temperature: F, reading: above-ambient, gap: in, speed: mph }
sites:
  - { id: a, name: A, line: M, milepost: 1, kind: odd, tracks: [{ id: 1 }, { id: 2 }] }
  - { id: b, name: B, line: M, milepost: 9, kind: odd, tracks: [{ id: 1 }, { id: 2 }] }
${more}
links: [{ from: a, to: b, miles: 8, fastestMph: 60, tracks: ${tracks} }]
corridors: ${corridors}
`,
    );

  test("is a link into a corridor that does not have it as lead-in: a bearing would begin anew", async () => {
    const path = two("[{ id: w, name: W, sites: [a], leadIn: [b] }, { id: e, name: E, sites: [b] }]", "", "[[1, 1], [2, 2]]");
    const { ok, json } = await check(path, RULES, null);
    expect(ok).toBe(true);
    expect(json.notes.filter((note) => note.includes("leadIn"))).toEqual([
      "corridor e does not list a as leadIn: a bearing that comes from there begins anew at b",
    ]);
  });

  test("is a track that leads nowhere, and a site without a link", async () => {
    const path = two(
      "[{ id: w, name: W, sites: [a, b] }, { id: e, name: E, sites: [c] }]",
      "  - { id: c, name: C, line: M, milepost: 20, kind: odd, tracks: [{ id: 1 }] }",
    );
    const { json } = await check(path, RULES, null);
    expect(json.notes).toEqual(
      expect.arrayContaining([
        "no link goes on from track 2 of a with rising mileposts, while other tracks have one",
        "no link leads to or from c: its trains are never joined",
      ]),
    );
  });

  test("is a kind of site without limits of its own where other kinds have them, and limits for a kind that no site is of", async () => {
    const [first] = readdirSync(RULES).sort();
    const rules = parse(readFileSync(join(RULES, first!), "utf8")) as { limits: Record<string, unknown> };
    rules.limits["main"] = rules.limits["default"];
    rules.limits["mian"] = rules.limits["default"];
    const { ok, json } = await check(LINE, file("rules.yaml", JSON.stringify(rules)), null);
    expect(ok).toBe(true);
    expect(json.notes).toEqual([
      expect.stringContaining('have no limits of their own for sites of kind branch: those of "default" hold'),
      expect.stringContaining("have limits for kind mian, but no site is of that kind"),
    ]);
    expect((await check(LINE, RULES, null)).json.notes).toEqual([]);
  });
});
