import { readdirSync, readFileSync } from "node:fs";
import { dirname, join, relative, resolve } from "node:path";
import { expect, test } from "vitest";
import { SHARED_SOURCES } from "../../../src/desk/page-build.ts";

const DESK = resolve("src/desk");
const PAGE = join(DESK, "page");

/** What a source file needs when it runs: imports of mere types are gone by then. */
function importsOf(file: string): string[] {
  const text = readFileSync(file, "utf8");
  return [...text.matchAll(/^import (?!type )(?:[^;]*? from )?"(\.[^"]+\.ts)";/gm)].map(([, path]) => resolve(dirname(file), path!));
}

test("a change of any source that the pages run makes them be built anew", () => {
  const reached = new Set<string>();
  const open = readdirSync(PAGE)
    .filter((name) => name.endsWith(".ts"))
    .map((name) => join(PAGE, name));
  for (const file of open) {
    for (const next of importsOf(file)) {
      if (reached.has(next) || dirname(next) === PAGE) continue;
      reached.add(next);
      open.push(next);
    }
  }
  expect([...reached].map((file) => relative(DESK, file)).sort()).toEqual([...SHARED_SOURCES].sort());
});
