import { ENGINE } from "./outcome.ts";
import { cellOf, type Group } from "./sweep.ts";
import type { WorldReport } from "./world-report.ts";

/** One goal, what was measured, and whether it was reached. */
export interface Goal {
  name: string;
  goal: string;
  measured: string;
  reached: boolean;
}

const PER_100K = 100_000;

/** The goals of the decision, held against the measurement. The ordinary world carries them unless a goal names another. */
export function goalsOf(reports: readonly WorldReport[]): Goal[] {
  const goals: Goal[] = [];
  for (const report of reports) {
    if (report.world === "ordinary") goals.push(...ordinaryGoals(report));
    else goals.push(timesGoal(report, 1.8));
  }
  const mixed = reports.find(({ world }) => world === "mixed");
  const wherever = reports.find(({ world }) => world === "ordinary");
  if (wherever !== undefined) goals.push(...joinGoals("joins, ordinary world, trains with ids", wherever.joins.withId, 5));
  if (mixed !== undefined) goals.push(...joinGoals("joins, mixed world, no ids", mixed.joins.withoutId, 20));
  return goals;
}

function ordinaryGoals(report: WorldReport): Goal[] {
  const { chance, crossing, limits, identity, bias } = report;
  const early = (group: Group, cost: number, least: number): Goal => {
    const { share, low, high } = cellOf(report.cells, ENGINE, cost).early[group];
    const measured = `${hundredths(share)} (${hundredths(low)} to ${hundredths(high)})`;
    return goal(`early, ${group}, at ${cost} per 1,000`, `at least ${hundredths(least)}`, measured, share >= least);
  };
  const engine = cellOf(report.cells, ENGINE, 1);
  const toCrossing = engine.leadToCrossing.median;
  const toLimit = engine.leadToLimit.median;
  const outside = chance.rows.filter((row) => !row.holds).length;
  const { beside } = engine;
  return [
    early("slow and medium", 1, 0.7),
    early("slow and medium", 2, 0.76),
    early("slow and medium", 5, 0.82),
    early("fast", 1, 0.28),
    early("fast", 5, 0.44),
    timesGoal(report, 2.5),
    goal("median lead to the crossing at 1 per 1,000", "at least 20 miles", `${toCrossing.toFixed(1)} miles`, toCrossing >= 20),
    goal("median lead to the limit reading at 1 per 1,000", "at least 25 miles", `${toLimit.toFixed(1)} miles`, toLimit >= 25),
    goal("warn on the wrong bearing beside a live defect", "under 1 %", hundredths(beside.share), beside.share < 0.01),
    goal("limit readings reported", "all", `${limits.share.hits} of ${limits.share.of}`, limits.share.hits === limits.share.of),
    goal("chance: tenths outside their interval", "none", `${outside} of ${chance.rows.length}`, outside === 0),
    goal("chance: expected calibration error", "under 0.03", chance.ece.toFixed(4), chance.ece < 0.03),
    goal("80 % crossing interval holds", "75 to 85 %", hundredths(crossing.share.share), Math.abs(crossing.share.share - 0.8) <= 0.05),
    goal("bearings' identity over a journey", "at least 99.8 %", hundredths(identity.whole.share, 3), identity.whole.share >= 0.998),
    goal("cars right from spacings alone", "at least 99.5 %", hundredths(report.cars.share, 3), report.cars.share >= 0.995),
    goal("bias of sound scanners, median error", "within 2 °F", `${bias.sound.median.toFixed(2)} °F`, bias.sound.median <= 2),
    goal("bias of sick scanners, median error", "within 5 °F", `${bias.sick.median.toFixed(2)} °F`, !(bias.sick.median > 5)),
  ];
}

function timesGoal(report: WorldReport, least: number): Goal {
  const { timesBest, bestRule, timesTrueNames, timesBound } = report;
  const measured = `${timesBest.toFixed(2)} times (${bestRule}); true names ${timesTrueNames.toFixed(2)}, bound ${timesBound.toFixed(2)}`;
  return goal(
    `early at 1 per 1,000 over the best published rule, ${report.world} world`,
    `at least ${least} times`,
    measured,
    report.timesBest >= least,
  );
}

function joinGoals(name: string, joins: WorldReport["joins"]["all"], mostWrong: number): Goal[] {
  const { share } = joins.right;
  return [
    goal(`${name}: right`, "at least 99.5 %", hundredths(share, 2), share >= 0.995),
    goal(
      `${name}: wrong per ${PER_100K.toLocaleString("en-US")}`,
      `under ${mostWrong}`,
      joins.wrongPer100k.toFixed(1),
      joins.wrongPer100k < mostWrong,
    ),
    goal(
      `${name}: undone and silent per ${PER_100K.toLocaleString("en-US")}`,
      "0",
      joins.undoneSilentPer100k.toFixed(1),
      joins.undoneSilentPer100k === 0,
    ),
  ];
}

function goal(name: string, wanted: string, measured: string, reached: boolean): Goal {
  return { name, goal: wanted, measured, reached };
}

function hundredths(share: number, digits = 1): string {
  return `${(100 * share).toFixed(digits)} %`;
}

/** The goals for a terminal. */
export function goalsText(reports: readonly WorldReport[]): string {
  return goalsOf(reports)
    .map(
      ({ name, goal, measured, reached }) =>
        `${reached ? "reached    " : "not reached"}  ${name.padEnd(72)} ${measured.padEnd(56)} goal: ${goal}`,
    )
    .join("\n");
}
