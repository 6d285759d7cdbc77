// `npm run bench [name...]`: every claim of speed, measured against a yardstick in the same run. Prints ratios; judges
// nothing, so a slow machine never fails a build.
import { alignBench } from "./align.bench.ts";
import { bearingBench } from "./bearing.bench.ts";
import { decodeBench } from "./decode.bench.ts";
import { deskBench } from "./desk.bench.ts";
import { embeddedBench } from "./embedded.bench.ts";
import { feedBench } from "./feed.bench.ts";
import type { BenchFigure } from "./figure.ts";
import { foldBench } from "./fold.bench.ts";
import { kafkaBench } from "./kafka.bench.ts";
import { passBench } from "./pass.bench.ts";
import { replayBench } from "./replay.bench.ts";
import { siteBench } from "./site.bench.ts";
import { telemetryBench } from "./telemetry.bench.ts";

const BENCHES: Record<string, () => Promise<BenchFigure[]>> = {
  decode: decodeBench,
  pass: passBench,
  align: alignBench,
  bearing: bearingBench,
  fold: foldBench,
  replay: replayBench,
  sites: siteBench,
  feed: feedBench,
  embedded: embeddedBench,
  kafka: kafkaBench,
  telemetry: telemetryBench,
  desk: deskBench,
};

const names = process.argv.slice(2).filter((name) => !name.startsWith("-"));
const unknown = names.filter((name) => !(name in BENCHES));
if (unknown.length > 0 || process.argv.includes("--help")) {
  console.log(`npm run bench [-- ${Object.keys(BENCHES).join(" | ")} ...]\nExample: npm run bench -- replay`);
  process.exit(unknown.length > 0 ? 2 : 0);
}

for (const [name, bench] of Object.entries(BENCHES)) {
  if (names.length > 0 && !names.includes(name)) continue;
  console.log(`\n${name}`);
  for (const figure of await bench()) {
    const ratio = figure.ratio.toFixed(figure.ratio < 10 ? 2 : 0);
    console.log(`  ${figure.name.padEnd(58)} ${ratio.padStart(7)} x   ${short(figure.ours)} against ${short(figure.base)} ${figure.unit}`);
    if (figure.note !== "") console.log(`      ${figure.note}`);
  }
}

function short(value: number): string {
  return value >= 1e6 ? `${(value / 1e6).toFixed(2)} M` : value >= 1e3 ? `${(value / 1e3).toFixed(1)} k` : value.toPrecision(3);
}
