import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { readFeed } from "../../src/feed/feed-file.ts";
import { decodeLine } from "../../src/feed/feed-line.ts";
import type { LineVisitor } from "../../src/feed/line-cutter.ts";
import type { BenchFigure } from "./figure.ts";
import { splitAndParse } from "./split-and-parse.ts";

/** From the bytes of a feed file to validated records, against bare line splitting and JSON.parse of the same bytes in the same run. */

const AXLES = 256_000;
const ROUNDS = 7;

export async function decodeBench(): Promise<BenchFigure[]> {
  const folder = mkdtempSync(join(tmpdir(), "decode-bench-"));
  try {
    return [await figureOf(folder, 32), await figureOf(folder, 1)];
  } finally {
    rmSync(folder, { recursive: true });
  }
}

async function figureOf(folder: string, group: number): Promise<BenchFigure> {
  const path = join(folder, `group-${group}.jsonl`);
  writeFileSync(path, feedText(AXLES, group));
  const records = AXLES / group;
  // Turn and turn about, and the best of each: the machine is shared.
  let ours = Number.POSITIVE_INFINITY;
  let base = Number.POSITIVE_INFINITY;
  for (let round = 0; round < ROUNDS; round++) {
    base = Math.min(base, await timed(records, () => splitAndParse(path)));
    ours = Math.min(ours, await timed(records, () => readAndDecode(path)));
  }
  return {
    name: `decode, groups of ${group}`,
    ours: (ours * 1e3) / records,
    base: (base * 1e3) / records,
    ratio: ours / base,
    unit: "µs a record",
    note: "bytes of a file to validated records, against bare line splitting + JSON.parse of the same bytes",
  };
}

async function timed(records: number, run: () => number | Promise<number>): Promise<number> {
  const from = performance.now();
  const seen = await run();
  if (seen !== records) throw new Error(`${seen} records instead of ${records}`);
  return performance.now() - from;
}

async function readAndDecode(path: string): Promise<number> {
  let records = 0;
  const visitor: LineVisitor = {
    axles: () => {
      records++;
    },
    line: (line) => {
      if (decodeLine(line).record !== undefined) records++;
    },
  };
  await readFeed(path).showTo(visitor);
  return records;
}

/** Ordinary traffic over a few sites, one decimal a reading, some readings not taken. */
export function feedText(axles: number, group: number): string {
  const lines: string[] = [];
  let noise = 12345;
  const tenths = (from: number, to: number) => {
    noise = (Math.imul(noise, 1103515245) + 12345) >>> 0;
    return Math.round((from + ((noise >>> 8) / 0x1000000) * (to - from)) * 10) / 10;
  };
  const column = (n: number, from: number, to: number) => Array.from({ length: n }, () => tenths(from, to));
  const axlesAPass = 480;
  for (let done = 0; done < axles; done += group) {
    const pass = Math.floor(done / axlesAPass);
    const row = done % axlesAPass;
    const site = `alder-${10 + (pass % 14)}`;
    const track = String(1 + (pass % 2));
    const gap: (number | null)[] = column(group, 66, 420);
    if (row === 0) gap[0] = null;
    lines.push(
      JSON.stringify({
        topic: "axle-readings",
        key: `${site}/${track}`,
        value: {
          type: "axles",
          site,
          track,
          pass: String(pass).padStart(4, "0"),
          first: row + 1,
          ms: Array.from({ length: group }, (_, i) => (row + i) * 290 + 7),
          gap,
          speed: column(group, 44, 48),
          left: { bearing: column(group, 20, 60), wheel: column(group, 60, 110) },
          right: { bearing: column(group, 20, 60), wheel: column(group, 60, 110) },
        },
      }),
    );
  }
  return lines.join("\n") + "\n";
}

if (import.meta.url === pathToFileURL(process.argv[1] ?? "").href) console.table(await decodeBench());
