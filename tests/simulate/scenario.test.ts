import { expect, test } from "vitest";
import { ASSUMPTIONS } from "../../src/simulate/assumptions.ts";
import { assumptionsPage } from "../../src/simulate/run.ts";
import { readScenario } from "../../src/simulate/scenario.ts";
import { ofScenario } from "../../src/simulate/simulate.ts";
import { worldOf } from "../../src/simulate/worlds.ts";
import { shortLine } from "./line.ts";

const head = 'seed: 1\nstart: "2026-03-04T00:00:00Z"\nhours: 3\ntrainsPerDay: 5\n';

test("mistakes in a scenario are told by line and column, all at once", () => {
  const { scenario, mistakes } = readScenario(`${head}trains:\n  - { name: a, kind: mixd, from: one, to: two, departs: -1 }\n`, "s.yaml");
  expect(scenario).toBeNull();
  expect(mistakes.length).toBe(2);
  for (const mistake of mistakes) expect([mistake.file, mistake.line]).toEqual(["s.yaml", 6]);
});

test("a number that a world does not have is refused by name", () => {
  const { scenario } = readScenario(`${head}changes: { warmShre: 1 }\n`, "s.yaml");
  if (scenario === null) throw new Error("not read");
  expect(() => ofScenario(shortLine(), scenario)).toThrow(/SIM-008.*warmShre/);
  expect(() => worldOf("nowhere")).toThrow(/SIM-002.*ordinary, sparse, sick, winter, mixed/);
});

test("every assumption stands in the list with its grade, and the list names every world", () => {
  const page = assumptionsPage();
  for (const item of ASSUMPTIONS) expect(page).toContain(item.name);
  for (const world of ["ordinary", "sparse", "sick", "winter", "mixed"]) expect(page).toContain(world);
  expect(ASSUMPTIONS.filter((item) => item.grade === "[P]").length).toBeGreaterThan(4);
});
