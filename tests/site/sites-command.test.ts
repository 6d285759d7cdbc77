import { execFileSync, spawnSync } from "node:child_process";
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { gzipSync } from "node:zlib";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { functionalTestRecord } from "../../src/feed/outbound/functional-tests.ts";
import { lineOf } from "../../src/simulate/feed-text.ts";
import { simulate } from "../../src/simulate/simulate.ts";
import { worldOf } from "../../src/simulate/worlds.ts";
import type { EquipmentSeen } from "../../src/site/equipment-seen.ts";
import type { FunctionalTestRecord } from "../../src/site/functional-test.ts";
import { testPage } from "../../src/site/functional-test-page.ts";
import type { SiteRow } from "../../src/site/site-row.ts";
import { demoRailroad } from "../flow/folded.ts";
import { SOUND_SITES } from "../simulate/sound-sites.ts";

const LINE = "replay-data/line.yaml";
const RULES = "replay-data/rules/standard";

describe("bearing-rise sites", () => {
  const folder = mkdtempSync(join(tmpdir(), "bearing-rise-sites-"));
  const feed = join(folder, "feed.jsonl");
  let told: { time: string; sites: SiteRow[]; tests: FunctionalTestRecord[]; reports: EquipmentSeen[] };

  beforeAll(() => {
    const railroad = demoRailroad();
    const scenario = {
      seed: 5,
      start: "2026-03-04T00:00:00.000Z",
      hours: 5,
      world: "ordinary" as const,
      changes: {},
      trainsPerDay: 60,
      trains: [],
      faults: [{ site: "tawny-33", kind: "dead" as const, device: "", from: 2, to: 6, value: 0 }],
      tests: [{ site: "brock-27", track: "1", at: 3 }],
      malformed: 0,
    };
    const world = { ...worldOf("ordinary"), ...SOUND_SITES };
    writeFileSync(feed, [...simulate({ railroad, seed: 5, hours: 5, world, scenario, trainsPerDay: 60 })].map(lineOf).join("\n"));
    const pages = join(folder, "tests");
    told = JSON.parse(
      execFileSync(process.execPath, ["src/main.ts", "sites", "--line", LINE, "--rules", RULES, "--tests", pages, "--json", feed], {
        encoding: "utf8",
      }),
    );
  });
  afterAll(() => rmSync(folder, { recursive: true }));

  it("says of every site how it stands, by the same folds as live", () => {
    expect(told.sites.map(({ site }) => site)).toEqual([...demoRailroad().sites.keys()]);
    const dead = told.sites.filter(({ state }) => state === "dead");
    expect(dead.map(({ site }) => site)).toEqual(["tawny-33"]);
    expect(dead[0]?.conditions.map(({ kind }) => kind)).toContain("dead");
    expect(Date.parse(told.time) - Date.parse(dead[0]!.lastHeartbeat!)).toBeGreaterThan(2.9 * 3_600_000);
    const alder = told.sites.find(({ site }) => site === "coldrill-44")!;
    expect(alder).toMatchObject({ state: "well", heartbeatMinutes: 5, trainsMissed: 0 });
    expect(alder.lastPass).not.toBeNull();
    expect(alder.tracks.some(({ axlesCompared, scanners }) => axlesCompared > 0 && scanners.every(({ biasF }) => biasF !== null))).toBe(
      true,
    );
    expect(alder.tracks.every(({ testDue }) => testDue !== null)).toBe(true);
  });

  it("has the record of each test closed in the feed, in its published shape, and a page to print", () => {
    expect(told.tests.map(({ site, closed }) => [site, closed])).toEqual([["brock-27", "ended"]]);
    expect(functionalTestRecord.safeParse(told.tests[0]).success).toBe(true);
    const pages = readdirSync(join(folder, "tests"));
    expect(pages).toEqual([`${told.tests[0]!.id}.html`]);
    const page = readFileSync(join(folder, "tests", pages[0]!), "utf8");
    for (const { device } of told.tests[0]!.devices) expect(page).toContain(`>${device}<`);
    expect(page).toMatch(/PASSED|FAILED/);
  });

  it("lists the sites' own reports with the vehicle and whether our reading agrees", () => {
    expect(told.reports.length).toBeGreaterThan(0);
    const hot = told.reports.filter(({ kind }) => kind === "hot-bearing");
    expect(hot.every(({ agrees }) => agrees !== false)).toBe(true);
    expect(told.reports.every(({ pass }) => pass !== null)).toBe(true);
  });

  it("is a table for people", () => {
    const text = execFileSync(process.execPath, ["src/main.ts", "sites", "--line", LINE, "--rules", RULES, feed], { encoding: "utf8" });
    expect(text).toMatch(/^tawny-33 +dead /m);
    expect(text).toContain("Open conditions");
    expect(text).toMatch(/^coldrill-44 +1 /m);
  });

  it("a feed that breaks off is shown up to there, with status 4 and words", () => {
    const whole = gzipSync(readFileSync(feed));
    const broken = join(folder, "broken.jsonl.gz");
    writeFileSync(broken, whole.subarray(0, Math.floor(whole.length * 0.7)));
    const { status, stdout, stderr } = spawnSync(process.execPath, ["src/main.ts", "sites", "--line", LINE, "--rules", RULES, broken], {
      encoding: "utf8",
    });
    expect(status).toBe(4);
    expect(stderr).toContain("FEED-104");
    expect(stdout).toMatch(/^coldrill-44 +well /m);
  });

  it("says what is wrong with its files as every command does", () => {
    expect(() =>
      execFileSync(process.execPath, ["src/main.ts", "sites", "--line", "no-such.yaml", "--rules", RULES, feed], { stdio: "pipe" }),
    ).toThrow(/no-such.yaml/);
  });

  it("the page speaks as people of the railroad do, by its own clocks, and says of a demonstration that it is one", () => {
    const devices = told.tests[0]!.devices.map((one) => ({ ...one, asLeft: null }));
    const record = { ...told.tests[0]!, begunAt: "2026-03-04T03:00:00.000Z", devices, conditionsAsFound: ["drift 1/left"] };
    const page = testPage(record, demoRailroad());
    expect(page).toContain("Functional test of Brock, track 1");
    expect(page).toContain("Larkfell &amp; Brindle Railroad (invented, for demonstration");
    expect(page).toContain("Begun 2026-03-03 21:00:00 CST (2026-03-04 03:00:00 UTC)");
    expect(page).toContain("left bearing scanner<br><small>1/left</small>");
    expect(page).toMatch(/Open when the test began: [^.]*track 1, left bearing scanner/);
    expect(page).not.toMatch(/\d\.\d{3}Z|>not-checked</);
    expect(testPage(record, { ...demoRailroad(), demonstration: false })).not.toContain("invented");
  });

  it("the page makes nothing of what people and sites wrote but text", () => {
    const page = testPage(
      { ...told.tests[0]!, tester: `<script>alert("x")</script>`, words: "a & b" },
      { ...demoRailroad(), name: "<script>" },
    );
    expect(page).not.toContain("<script>");
    expect(page).toContain("&lt;script&gt;");
    expect(page).toContain("a &amp; b");
  });
});
