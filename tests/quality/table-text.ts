import type { Median, Share } from "./intervals.ts";
import { ENGINE, NUISANCE_KINDS, TRUE_NAMES } from "./outcome.ts";
import { type Cell, COSTS, cellOf } from "./sweep.ts";
import type { JoinReport, Reliability, WorldReport } from "./world-report.ts";

/** The measurement for a terminal. */
export function tableText(reports: readonly WorldReport[]): string {
  return reports.map(worldText).join("\n\n");
}

function worldText(report: WorldReport): string {
  const { world, seeds, hours, trains, passes, axles, developing, crossed } = report;
  const lines = [
    `World "${world}": ${count(trains)} trains, ${count(passes)} passes, ${count(axles)} axles, ${count(developing)} developing bearings (${count(crossed)} reached the limit); seeds ${seeds}, ${hours} h each`,
    "",
    "Share of bearings with a warn at an earlier site than their first reading at the limit and than the failure, with its 95 % interval.",
    "Cost: bearings without a developing defect that were warned of, per 1,000 train passes. Lead: median miles, slow and medium.",
    "",
    `${"cost  rule".padEnd(38)} ${["slow and medium", "of those seen twice", "fast", "burst", "to crossing", "to limit reading"].map((head) => head.padStart(20)).join("")}  threshold`,
  ];
  for (const cost of COSTS) for (const cell of report.cells) if (cell.cost === cost) lines.push(cellText(cell));
  for (const name of [ENGINE, TRUE_NAMES]) {
    const cell = cellOf(report.cells, name, null);
    lines.push(`${cellText(cell)}  (as the rules file stands: ${cell.perThousand.toFixed(2)} per 1,000)`);
  }
  lines.push(
    "",
    `At 1 per 1,000: ${report.timesBest.toFixed(2)} times the best published rule (${report.bestRule}); with the true names ${report.timesTrueNames.toFixed(2)} times; with the true curves known, which no reading tells, ${report.timesBound.toFixed(2)} times at most.`,
  );
  lines.push(
    `Bound, the true curves known: ${share(report.bound.mainly)} of slow and medium, ${share(report.bound.fast)} of fast.`,
    `Bearings that trip a plain limit (170 °F, or 95 °F on one axle): ${share(report.trips)} of ${count(report.trips.of)} have no defect; published: about 40 % of those removed (me_fac/186 [P]).`,
    "",
  );
  lines.push(...nuisanceText(report), "", ...causeText(report), "", ...accountText(report));
  return lines.join("\n");
}

function cellText(cell: Cell): string {
  const { early } = cell;
  const columns = [
    share(early["slow and medium"]),
    share(cell.earlyOfSeen),
    share(early.fast),
    share(early.burst),
    median(cell.leadToCrossing),
    median(cell.leadToLimit),
  ];
  const cost = cell.cost === null ? "rules" : String(cell.cost);
  return `${`${cost.padEnd(6)}${cell.rule}`.padEnd(38)} ${columns.map((column) => column.padStart(20)).join("")}  ${cell.threshold.toPrecision(4)}`;
}

function nuisanceText(report: WorldReport): string[] {
  const heads = NUISANCE_KINDS.map((kind) => kind.padStart(10)).join("");
  const row = (cell: Cell): string => {
    const name = cell.cost === null ? "rules file" : `${cell.cost} per 1,000`;
    return `  ${name.padEnd(14)}${NUISANCE_KINDS.map((kind) => String(cell.kinds[kind]).padStart(10)).join("")}   beside a live defect: ${share(cell.beside)}`;
  };
  const rows = [...COSTS, null].map((cost) => row(cellOf(report.cells, ENGINE, cost)));
  return [`The engine's nuisances by kind:`, `  ${"".padEnd(14)}${heads}`, ...rows];
}

function causeText({ misses, nuisances }: WorldReport): string[] {
  const rows = (counts: Record<string, number>): string[] =>
    Object.entries(counts).map(([cause, number]) => `  ${String(number).padStart(5)}  ${cause}`);
  return [
    "What the engine missed at 1 per 1,000 (bursts not counted), by cause:",
    ...rows(misses.byCause),
    "Its nuisances there, by cause:",
    ...rows(nuisances.byCause),
    "Worst misses (for --seeds and --explain):",
    ...misses.worst.map(
      ({ seed, one, cause, best }) => `  ${seed} ${one.number}  ${one.class}, ${one.form}; highest factor ${best.toFixed(2)}; ${cause}`,
    ),
    "Worst nuisances:",
    ...nuisances.worst.map(
      ({ seed, one, cause }) =>
        `  ${seed} ${one.train}/${one.axle}/${one.side}  factor ${one.score.toFixed(2)} at mile ${one.miles.toFixed(0)}; ${one.kind}; ${cause}`,
    ),
  ];
}

function accountText(report: WorldReport): string[] {
  const { chance, crossing, limits, joins, identity, bias } = report;
  return [
    `Limit readings reported       ${share(limits.share)} of ${count(limits.share.of)}`,
    `80 % crossing interval holds  ${share(crossing.share)} of ${count(crossing.share.of)} (${crossing.early} crossed before it, ${crossing.late} behind it)`,
    `Chance before the next site   expected calibration error ${chance.ece.toFixed(4)} over ${count(chance.looks)} looks, ${chance.eceAboveFirst.toFixed(3)} above the first tenth`,
    ...reliabilityText(chance),
    `Joins, with train ids         ${joinText(joins.withId)}`,
    `Joins, without                ${joinText(joins.withoutId)}`,
    `Bearings' identity            ${percent(identity.whole.share, 3)} of bearings whole over their journey, ${percent(identity.readings.share, 3)} of readings; ${percent(identity.unnamedRows.share, 3)} of axles without a name`,
    `Cars from spacings alone      ${percent(report.cars.share, 3)} of ${count(report.cars.of)} right; confidence: calibration error ${report.carConfidence.ece.toFixed(4)}`,
    `Scanner bias after a day      error ${median(bias.sound)} °F on ${bias.soundScanners} sound scanners, ${median(bias.sick)} °F on ${bias.sickScanners} sick ones, ${bias.unlearned} not learned`,
    `Time                          ${report.seconds.toFixed(0)} s of one core`,
  ];
}

function reliabilityText(chance: Reliability): string[] {
  return chance.rows.map((row) => {
    const to = row.from + 0.1;
    const verdict = row.holds ? "" : "  outside";
    return `    ${row.from.toFixed(1)} to ${to.toFixed(1)}  stated ${row.stated.toFixed(3)}  observed ${row.observed.share.toFixed(3)} (${row.observed.low.toFixed(3)} to ${row.observed.high.toFixed(3)}) of ${count(row.observed.of)}${verdict}`;
  });
}

function joinText(joins: JoinReport): string {
  if (joins.passes === 0) return "none";
  const per = `wrong ${joins.wrongPer100k.toFixed(0)}, over a site ${joins.skippedPer100k.toFixed(0)}, undone and said ${joins.undoneSaidPer100k.toFixed(0)}, undone and silent ${joins.undoneSilentPer100k.toFixed(0)}, too late ${joins.latePer100k.toFixed(0)}`;
  return `${percent(joins.right.share, 2)} right of ${count(joins.passes)}; per 100,000: ${per}`;
}

export function share(value: Share): string {
  if (value.of === 0) return "none";
  return `${percent(value.share, 1)} (${(100 * value.low).toFixed(0)} to ${(100 * value.high).toFixed(0)})`;
}

export function median(value: Median): string {
  if (value.of === 0) return "none";
  return `${value.median.toFixed(1)} (${value.low.toFixed(1)} to ${value.high.toFixed(1)})`;
}

export function percent(value: number, digits: number): string {
  return Number.isNaN(value) ? "none" : `${(100 * value).toFixed(digits)} %`;
}

export function count(value: number): string {
  return value.toLocaleString("en-US");
}
