import { createHash } from "node:crypto";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { zstdDecompressSync } from "node:zlib";
import { afterAll, expect, test } from "vitest";
import { madeText, runSimulate, SimulationRefused } from "../../src/simulate/run.ts";
import { replayData } from "./line.ts";

const folder = mkdtempSync(join(tmpdir(), "simulate-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const line = `${replayData}line.yaml`;

test("the command writes a feed and its truth, and says what it made", async () => {
  const shares: number[] = [];
  const made = await runSimulate({
    line,
    out: join(folder, "one"),
    seed: 5,
    hours: 6,
    world: "winter",
    progress: (share) => shares.push(share),
  });
  const feed = zstdDecompressSync(readFileSync(made.feed)).toString("utf8");
  expect(createHash("sha256").update(feed).digest("hex")).toBe(made.sha256);
  expect(feed.trimEnd().split("\n").length).toBe(made.lines);
  const truth = readFileSync(made.truth, "utf8").trimEnd().split("\n");
  expect(truth.filter((item) => item.startsWith('{"type":"pass"')).length).toBe(made.passes);
  expect(madeText(made)).toContain(`${made.trains} with ${made.passes} passes`);
  expect(shares.every((share) => share >= 0 && share <= 1)).toBe(true);
  const again = await runSimulate({ line, out: join(folder, "two"), seed: 5, hours: 6, world: "winter" });
  expect(again.sha256).toBe(made.sha256);
});

test("what cannot be done is refused with a code and a reason", async () => {
  const out = join(folder, "none");
  const refusal = async (options: Partial<Parameters<typeof runSimulate>[0]>): Promise<string> => {
    const error = await runSimulate({ line, out, hours: 1, ...options }).then(
      () => null,
      (thrown: unknown) => thrown,
    );
    expect(error).toBeInstanceOf(SimulationRefused);
    return (error as SimulationRefused).message;
  };
  expect(await refusal({ line: join(folder, "nowhere.yaml") })).toMatch(/^SIM-010 the line file/);
  expect(await refusal({ world: "dry" })).toMatch(/SIM-002 no world "dry"/);
  expect(await refusal({ hours: -1 })).toMatch(/SIM-012 --hours -1/);
  expect(await refusal({ hours: 1e9 })).toMatch(/SIM-012 --hours 1000000000: .*up to 9600/);
  expect(await refusal({ trainsPerDay: 1e6 })).toMatch(/SIM-012 --trains-per-day 1000000: .*up to 2000/);
  expect(await refusal({ group: 65 })).toMatch(/SIM-012 --group 65/);
  const scenario = join(folder, "s.yaml");
  const train = "{ name: a, kind: unit, from: rushy-77, to: tawny-33, departs: 0 }";
  writeFileSync(scenario, `seed: 1\nstart: "2026-03-04T00:00:00Z"\nhours: 3\ntrainsPerDay: 0\ntrains: [${train}]\n`);
  expect(await refusal({ scenario })).toMatch(/SIM-006 no way for a from rushy-77 to tawny-33/);
});
