import { spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { gzipSync } from "node:zlib";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { lineOf } from "../src/simulate/feed-text.ts";
import { simulated } from "./flow/folded.ts";

const LINE = "replay-data/line.yaml";
const RULES = "replay-data/rules/standard";
const OTHER_RULES = "replay-data/rules/cautious";

let folder = "";
let feed = "";
let spoilt = "";

/** Through the launcher, as a user would. */
function run(args: string[], input?: string) {
  const { status, stdout, stderr } = spawnSync(process.execPath, ["src/bearing-rise.js", ...args], {
    encoding: "utf8",
    maxBuffer: 64 << 20,
    ...(input === undefined ? {} : { input }),
  });
  return { status, stdout, stderr };
}

function replay(out: string, ...more: string[]) {
  return run(["replay", "--line", LINE, "--rules", RULES, "--out", join(folder, out), ...more]);
}

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "bearing-rise-main-"));
  const records = simulated({ seed: 11, hours: 6, world: "mixed", trainsPerDay: 90 }).feed;
  feed = join(folder, "feed.jsonl");
  writeFileSync(feed, records.map((record) => `${lineOf(record as Parameters<typeof lineOf>[0])}\n`).join(""));
  spoilt = join(folder, "spoilt.jsonl");
  writeFileSync(spoilt, `${readFileSync(feed, "utf8").slice(0, 200_000)}\nnot json\n`);
});

afterAll(() => rmSync(folder, { recursive: true }));

describe("bearing-rise", { timeout: 60_000 }, () => {
  it("every command has --help with an example", () => {
    expect(run(["--help"])).toMatchObject({ status: 0, stdout: expect.stringContaining("Example:") });
    for (const command of ["live", "demo", "user", "replay", "compare", "check", "sites", "record", "topics", "send", "simulate"]) {
      const { status, stdout } = run([command, "--help"]);
      expect(status).toBe(0);
      expect(stdout).toContain(`Example:\n  bearing-rise ${command} `);
    }
  });

  it("replay writes its six files and says where the report is", () => {
    const { status, stdout } = replay("day", feed);
    expect(status).toBe(0);
    expect(stdout).toContain("report.html");
    expect(stdout).toContain("qualified people govern");
    for (const name of ["passes.jsonl", "warnings.jsonl", "site-conditions.jsonl", "rejected.jsonl", "summary.json", "report.html"]) {
      expect(() => readFileSync(join(folder, "day", name))).not.toThrow();
    }
  });

  it("the same day twice gives the same bytes", () => {
    replay("again", feed);
    for (const name of ["passes.jsonl", "warnings.jsonl", "site-conditions.jsonl", "rejected.jsonl", "summary.json", "report.html"]) {
      expect(readFileSync(join(folder, "again", name))).toEqual(readFileSync(join(folder, "day", name)));
    }
  });

  it("reads standard input, and prints the summary for programs", () => {
    const { status, stdout, stderr } = run(
      ["replay", "--line", LINE, "--rules", RULES, "--out", join(folder, "stdin"), "--json", "-"],
      readFileSync(feed, "utf8"),
    );
    expect(status).toBe(0);
    expect(stderr).toBe("");
    expect(JSON.parse(stdout)).toMatchObject({ type: "replay-summary", records: { accounted: true } });
    expect(readFileSync(join(folder, "stdin", "warnings.jsonl"))).toEqual(readFileSync(join(folder, "day", "warnings.jsonl")));
  });

  it("--train narrows what is reported, never what is folded", () => {
    const all = readFileSync(join(folder, "day", "warnings.jsonl"), "utf8")
      .trim()
      .split("\n");
    const train = (JSON.parse(all[0] ?? "") as { journey: string }).journey;
    expect(replay("one", "--train", train, "--quiet", "--", feed).status).toBe(0);
    const one = readFileSync(join(folder, "one", "warnings.jsonl"), "utf8")
      .trim()
      .split("\n");
    expect(one).toEqual(all.filter((line) => (JSON.parse(line) as { journey: string }).journey === train));
    const summary = JSON.parse(readFileSync(join(folder, "one", "summary.json"), "utf8")) as { axles: number };
    expect(summary.axles).toBe((JSON.parse(readFileSync(join(folder, "day", "summary.json"), "utf8")) as { axles: number }).axles);
  });

  it("rejected records end a replay with status 5 only when it is strict", () => {
    expect(replay("loose", spoilt).status).toBe(0);
    expect(replay("strict", "--strict", spoilt).status).toBe(5);
    const rejected = readFileSync(join(folder, "strict", "rejected.jsonl"), "utf8");
    expect(rejected).toContain('"raw":"not json"');
  });

  it("tells wrong usage, wrong files and unreadable feeds apart by status and words", () => {
    expect(run(["replay", feed])).toMatchObject({ status: 2, stderr: expect.stringContaining("--line") });
    expect(run(["nonsense"]).status).toBe(2);
    expect(replay("x", "--from", "yesterday", feed)).toMatchObject({ status: 2, stderr: expect.stringContaining("NARROW-001") });
    const rulesAsLine = run(["replay", "--line", RULES, "--rules", RULES, "--out", join(folder, "x"), feed]);
    expect(rulesAsLine).toMatchObject({ status: 3, stderr: expect.stringContaining("wrong-file: is a rules file") });
    const missing = replay("x", join(folder, "missing.jsonl"));
    expect(missing).toMatchObject({ status: 4, stderr: expect.stringContaining("FEED-101") });
    expect(missing.stderr).not.toContain("after line");
  });

  it("a feed of which nothing can be used is never told as a quiet day", () => {
    const [empty, wrong] = [join(folder, "empty.jsonl"), "package.json"];
    writeFileSync(empty, "");
    const files = ["--line", LINE, "--rules", RULES];
    const told = { status: 4, stderr: expect.stringMatching(/FEED-107 nothing-usable: .*that there is no warning means nothing/) };
    for (const nothing of [empty, wrong]) {
      expect(replay("nothing", "--quiet", nothing)).toMatchObject(told);
      expect(run(["sites", ...files, nothing])).toMatchObject(told);
      expect(run(["compare", ...files, "--rules", OTHER_RULES, "--quiet", nothing])).toMatchObject(told);
      expect(run(["check", LINE, RULES, nothing])).toMatchObject({ status: 4, stdout: expect.stringMatching(/To be mended: .*no record/) });
    }
  });

  it("a feed that breaks off leaves the results up to there, said to be cut short, and status 4", () => {
    const whole = gzipSync(readFileSync(feed));
    const broken = join(folder, "broken.jsonl.gz");
    writeFileSync(broken, whole.subarray(0, Math.floor(whole.length / 2)));
    const { status, stdout, stderr } = replay("cut", "--quiet", broken);
    expect(status).toBe(4);
    expect(stderr).toContain("FEED-104");
    expect(stdout).toContain("CUT SHORT");
    const summary = JSON.parse(readFileSync(join(folder, "cut", "summary.json"), "utf8")) as { axles: number; cutShort: object };
    expect(summary).toMatchObject({ cutShort: { code: "FEED-104 cut-short", feed: broken }, records: { accounted: true } });
    expect(summary.axles).toBeGreaterThan(0);
    expect(readFileSync(join(folder, "cut", "report.html"), "utf8")).toContain("The feed broke off.");
    expect(readFileSync(join(folder, "cut", "passes.jsonl"), "utf8")).not.toBe("");
    const compared = run(["compare", "--line", LINE, "--rules", RULES, "--rules", OTHER_RULES, "--json", broken]);
    expect(compared).toMatchObject({ status: 4, stderr: expect.stringContaining("FEED-104") });
    expect(JSON.parse(compared.stdout)).toMatchObject({ type: "replay-comparison" });
  });

  it("live finds a webhook without its secret before anything runs", () => {
    const config = join(folder, "live.yaml");
    const hook = `webhooks: [{ name: desk, url: "https://desk.example", secrets: ["file:no-such.secret"] }]`;
    writeFileSync(config, `railroad: { line: "${resolve(LINE)}", rules: "${resolve(RULES)}" }\ndataFolder: data\n${hook}\n`);
    const { status, stdout, stderr } = run(["live", "--config", config]);
    expect(status).toBe(3);
    expect(stderr).toContain(`HOOK-003 secret: webhook desk: ${join(folder, "no-such.secret")} cannot be read`);
    expect(stdout + stderr).not.toContain("log-opened");
  });

  it("compare shows one day under two rule sets", () => {
    const args = ["compare", "--line", LINE, "--rules", RULES, "--rules", OTHER_RULES];
    const { status, stdout } = run([...args, feed]);
    expect(status).toBe(0);
    expect(stdout).toContain(OTHER_RULES);
    expect(JSON.parse(run([...args, "--json", feed]).stdout)).toMatchObject({ type: "replay-comparison" });
    expect(run(["compare", "--line", LINE, "--rules", RULES, feed])).toMatchObject({ status: 2, stderr: expect.stringContaining("twice") });
  });

  it("check prints what it understood, or every mistake by line and column", () => {
    expect(run(["check", LINE, RULES, feed])).toMatchObject({ status: 0, stdout: expect.stringContaining("alder-14") });
    const broken = join(folder, "broken.yaml");
    writeFileSync(broken, readFileSync(LINE, "utf8").replace("milepost: 14.2", "milepost: far").replace("to: brock-27", "to: brook-27"));
    const { status, stdout } = run(["check", broken, RULES]);
    expect(status).toBe(3);
    expect(stdout).toMatch(/broken\.yaml:\d+:\d+ /);
    expect(stdout).toContain("brook-27");
  });

  it("simulate gives the same bytes for the same seed, and lists its assumptions", () => {
    const args = ["simulate", "--line", LINE, "--seed", "3", "--hours", "2", "--json"];
    const [a, b] = ["a", "b"].map((out) => run([...args, "--out", join(folder, out)]));
    expect(a?.status).toBe(0);
    expect(JSON.parse(a?.stdout ?? "").sha256).toBe(JSON.parse(b?.stdout ?? "").sha256);
    expect(run(["simulate", "--assumptions"])).toMatchObject({ status: 0, stdout: expect.stringContaining("assumption") });
    expect(run(["simulate", "--line", LINE])).toMatchObject({ status: 2, stderr: expect.stringContaining("--out") });
  });
});
