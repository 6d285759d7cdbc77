import { closeSync, existsSync, mkdirSync, openSync, renameSync, writeFileSync, writeSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { readLine } from "../../src/line/line-file.ts";
import { lineOf } from "../../src/simulate/feed-text.ts";
import { inventLine, USUAL_MILES } from "../../src/simulate/invent-line.ts";
import { simulate } from "../../src/simulate/simulate.ts";

/** Generated days for benchmarks: made once for each set of wishes and kept in the temporary folder. */
export interface DayWishes {
  /** The feed ends with the record that reaches this many. */
  axles: number;
  /** Axles a record. */
  group: number;
  seed: number;
}

const BLOCK_CHARS = 1 << 20;
const SITES = 48;
/** With it the line sees about 2 million axles a day. */
const TRAINS_PER_DAY = 140;
const MOST_DAYS = 60;
/** Raise it when the generator changes what it makes, or old days stay in use. */
const EDITION = 4;

/** Path of a plain feed file of so many axles; `lineOfDay` gives its line file. */
export function makeDay({ axles, group, seed }: DayWishes): string {
  const folder = join(tmpdir(), `bearing-rise-day-${EDITION}-${axles}-${group}-${seed}`);
  const path = join(folder, "feed.jsonl");
  if (existsSync(path)) return path;
  mkdirSync(folder, { recursive: true });
  const text = inventLine({ seed, sites: SITES, ...USUAL_MILES, doubleShare: 1 });
  writeFileSync(lineOfDay(path), text);
  const { railroad, mistakes } = readLine(text, "line.yaml");
  if (railroad === null) throw new Error(`the invented line has mistakes: ${JSON.stringify(mistakes)}`);
  const half = `${path}.half`;
  const file = openSync(half, "w");
  let block = "";
  let seen = 0;
  const first = /"ms":\[([^\]]*)\]/;
  for (const item of simulate({ railroad, seed, hours: 24 * MOST_DAYS, world: "ordinary", trainsPerDay: TRAINS_PER_DAY, group })) {
    block += lineOf(item) + "\n";
    if (block.length > BLOCK_CHARS) {
      writeSync(file, block);
      block = "";
    }
    if (item.topic === "axle-readings" && item.json.startsWith('{"type":"axles"')) {
      seen += group === 1 ? 1 : (first.exec(item.json)?.[1]?.split(",").length ?? 0);
      if (seen >= axles) break;
    }
  }
  writeSync(file, block);
  closeSync(file);
  // Only a whole day gets its name: one that was broken off is made again.
  renameSync(half, path);
  return path;
}

export function lineOfDay(path: string): string {
  return join(dirname(path), "line.yaml");
}
