import type { Act, ComparedBearing, Comparison, Cost } from "./compare.ts";
import { CAUTION } from "./summary.ts";
import { countWords, figure, msOf, printable, utcWords } from "./words.ts";
import { wrapped } from "./wrapped.ts";

/** Longest part of the list on a terminal; `--json` has them all. */
const MOST_LISTED = 60;
const COST_COLUMNS = 34;

/** Two rule sets may have two limits: whose was reached has to be said. */
const ENDS: Record<ComparedBearing["limitReachedUnder"], string> = {
  both: "the bearing reached the limit",
  A: "the bearing reached the limit of A, not that of B",
  B: "the bearing reached the limit of B, not that of A",
  neither: "the bearing did not reach the limit",
};

/** The comparison for a terminal: what each rule set costs, then the bearings on which they differ. */
export function comparisonText(comparison: Comparison): string {
  const { a, b, railroad } = comparison;
  const lines = [
    `${printable(railroad.name)}${railroad.demonstration ? " (invented, for demonstration)" : ""}: one day, two rule sets`,
    `  A  ${printable(a.name)}: ${a.rules.map(printable).join(", ") || "no rules in force"}`,
    `  B  ${printable(b.name)}: ${b.rules.map(printable).join(", ") || "no rules in force"}`,
    "",
    ...costLines(a.cost, b.cost),
    ...section("Acted upon only under A", comparison.onlyA),
    ...section("Acted upon only under B", comparison.onlyB),
    ...section("Earlier under A", comparison.earlierInA),
    ...section("Earlier under B", comparison.earlierInB),
    "",
    ...wrapped(
      `At the same pass under both: ${countWords(comparison.same.length)}. Watched and no more, under A only: ${countWords(comparison.watchedOnlyA)}, under B only: ${countWords(comparison.watchedOnlyB)}.`,
      0,
      0,
    ),
    ...wrapped("A stop is one pass of one train at which a warning first said warn or limit, whatever the number of its bearings.", 0, 0),
    "",
    ...wrapped(CAUTION, 0, 0),
  ];
  return `${lines.join("\n")}\n`;
}

function costLines(a: Cost, b: Cost): string[] {
  const row = (label: string, valueA: string, valueB: string) =>
    `${label.padEnd(COST_COLUMNS)}${valueA.padStart(12)}${valueB.padStart(12)}`;
  const count = (label: string, of: (cost: Cost) => number) => row(label, countWords(of(a)), countWords(of(b)));
  return [
    row("", "A", "B"),
    count("train passes", (cost) => cost.passes),
    count("limit", (cost) => cost.byLevel.limit),
    count("limit without an earlier warn", (cost) => cost.limitWithoutEarlierWarn),
    count("warn, the limit not reached", (cost) => cost.byLevel.warn),
    count("warn that came to nothing", (cost) => cost.cameToNothing),
    row("  per 1,000 train passes", figure(a.cameToNothingPer1000Passes, 2), figure(b.cameToNothingPer1000Passes, 2)),
    count("watch and no more", (cost) => cost.byLevel.watch),
    count("stops asked for", (cost) => cost.stops),
    row("  per 1,000 train passes", figure(a.stopsPer1000Passes, 2), figure(b.stopsPer1000Passes, 2)),
  ];
}

function section(title: string, bearings: readonly ComparedBearing[]): string[] {
  if (bearings.length === 0) return [];
  const lines = ["", `${title}: ${countWords(bearings.length)}`];
  for (const bearing of bearings.slice(0, MOST_LISTED)) {
    const { train, place, laterInBMiles } = bearing;
    lines.push(...wrapped(`train ${printable(train ?? "not named")}, ${printable(place)}`, 2, 4));
    if (bearing.a !== null) lines.push(`    A  ${actWords(bearing.a)}`);
    if (bearing.b !== null) lines.push(`    B  ${actWords(bearing.b)}`);
    const sooner =
      laterInBMiles === null ? null : `${figure(Math.abs(laterInBMiles), 2)} miles earlier under ${laterInBMiles > 0 ? "A" : "B"}`;
    const end = ENDS[bearing.limitReachedUnder];
    lines.push(`       ${sooner === null ? end : `${sooner}; ${end}`}`);
  }
  if (bearings.length > MOST_LISTED) lines.push(`  and ${countWords(bearings.length - MOST_LISTED)} more`);
  return lines;
}

function actWords(act: Act): string {
  const when = utcWords(msOf(act.time)).slice(5, 19).replace("T", " ");
  return `${act.level.padEnd(5)}  ${when} UTC  ${printable(act.site)}, mile ${figure(act.miles, 2)} of its journey, ${figure(act.riseF, 1)} °F above ambient`;
}
