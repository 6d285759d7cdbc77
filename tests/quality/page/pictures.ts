import { type Markup, markup, px } from "../../../src/replay/report/markup.ts";
import type { CurvePoint } from "../outcome.ts";
import { ENGINE } from "../outcome.ts";
import { percent, share } from "../table-text.ts";
import type { Reliability, WorldReport } from "../world-report.ts";
import { namedLines, picture } from "./chart.ts";

const NAMES_WIDTH = 290;
const CHANCE_RIGHT = 120;
const LIMIT_F = 170;

/** Cost against early warning, a line for each rule. */
export function costPicture(report: WorldReport): Markup {
  const lines = report.lines.map(({ rule, early }) => ({ name: rule, points: early.map(({ cost, share }) => [cost, share] as const) }));
  const first = report.lines[0]!.early;
  return picture(
    {
      id: `cost-${report.world}`,
      title: `Cost against early warning, ${report.world} world`,
      description: `For each rule the share of slow and medium bearings warned of at an earlier site than their first reading at the limit, by nuisances per 1,000 train passes. ${lines.map((line) => `${line.name}: ${percent(line.points.find(([cost]) => cost === 1)?.[1] ?? Number.NaN, 0)} at 1 per 1,000`).join("; ")}.`,
      x: {
        from: first[0]!.cost,
        to: first.at(-1)!.cost,
        words: "nuisances per 1,000 train passes",
        marks: [0.2, 0.5, 1, 2, 5],
        logarithmic: true,
      },
      y: { from: 0, to: 1, words: "share warned of early", text: (value) => percent(value, 0) },
      right: NAMES_WIDTH,
    },
    (plot) => namedLines(lines, plot),
  );
}

/** For each lead, the share of all slow and medium bearings that had at least so much. */
export function leadPicture(report: WorldReport): Markup {
  const marks = Array.from({ length: 23 }, (_, at) => at * 10 - 20);
  const lines = report.lines.map(({ rule, leads }) => ({
    name: rule,
    points: marks.map((miles) => [miles, leads.filter((lead) => lead >= miles).length / Math.max(1, report.mainly)] as const),
  }));
  return picture(
    {
      id: `lead-${report.world}`,
      title: `Lead of the first warn before the true crossing, ${report.world} world`,
      description: `At 1 nuisance per 1,000 passes: share of slow and medium bearings whose first warn came at least so many miles before they truly reached the limit. Median of the engine's warns: ${(report.lines[0]!.leads.at(report.lines[0]!.leads.length >> 1) ?? Number.NaN).toFixed(0)} miles. Under 0: the warn came behind the crossing, before any site read it.`,
      x: { from: -20, to: 200, words: "miles from the first warn to the true crossing" },
      y: { from: 0, to: 1, words: "share with at least this lead", text: (value) => percent(value, 0) },
      right: NAMES_WIDTH,
    },
    (plot) => namedLines(lines, plot),
  );
}

/** Stated chance against what came, with 95 % intervals. */
export function reliabilityPicture(report: WorldReport): Markup {
  const { chance } = report;
  return picture(
    {
      id: `chance-${report.world}`,
      title: `Stated chance of reaching the limit before the next site, ${report.world} world`,
      description: rowsInWords(chance),
      x: { from: 0, to: 1, words: "stated chance", text: (value) => percent(value, 0) },
      y: { from: 0, to: 1, words: "observed share", text: (value) => percent(value, 0) },
      right: CHANCE_RIGHT,
    },
    ({ x, y }) =>
      markup`<path class="even" d="M${px(x.at(0))} ${px(y.at(0))}L${px(x.at(1))} ${px(y.at(1))}"/>${chance.rows.map((row) => {
        const at = x.at(row.stated);
        const up = y.at(row.observed.share);
        return markup`<path class="bar" d="M${px(at)} ${px(y.at(row.observed.low))}V${px(y.at(row.observed.high))}"/><circle class="levelled" cx="${px(at)}" cy="${px(up)}" r="4"/>`;
      })}<text x="${px(x.at(1) + 12)}" y="${px(y.at(1) + 4)}">as stated</text>`,
  );
}

function rowsInWords(chance: Reliability): string {
  return chance.rows.map((row) => `stated ${percent(row.stated, 0)}: came in ${share(row.observed)} of ${row.observed.of}`).join("; ");
}

/** One bearing over the miles: what was read, what was true, and what the engine made of it. */
export function curvePicture(id: string, title: string, curve: readonly CurvePoint[], threshold: number): Markup {
  const miles = curve.map((point) => point.miles);
  const from = Math.min(...miles);
  const to = Math.max(...miles, from + 1);
  const hottest = Math.max(LIMIT_F + 20, ...curve.map((point) => Math.max(point.riseF ?? 0, point.trueF ?? 0)));
  const coldest = Math.min(0, ...curve.map((point) => point.riseF ?? 0));
  return picture(
    {
      id,
      title,
      description: curve.map(pointInWords).join("; "),
      x: { from, to, words: "miles of the train's way" },
      y: { from: coldest, to: hottest, words: "°F above ambient" },
      right: 90,
      height: 260,
    },
    ({ x, y }) => {
      const known = curve.filter((point) => point.trueF !== null);
      const line = known.map((point) => `${px(x.at(point.miles))},${px(y.at(point.trueF!))}`).join(" ");
      const limit = px(y.at(LIMIT_F));
      return markup`<path class="limit-line" d="M${px(x.at(from))} ${limit}H${px(x.at(to))}"/><text class="limit-word" x="${px(x.at(to) + 8)}" y="${px(y.at(LIMIT_F) + 4)}">limit</text><polyline class="side-middle" points="${line}"/>${curve.map((point) => reading(point, x.at(point.miles), y.at(point.riseF ?? 0), threshold))}`;
    },
  );
}

function reading(point: CurvePoint, at: number, up: number, threshold: number): Markup | null {
  if (point.riseF === null) return null;
  const warns = point.factor !== null && point.factor >= threshold;
  const mark = warns
    ? markup`<path class="mark warn" d="M${px(at)} ${px(up - 8)}l8 14h-16z"/>`
    : markup`<rect class="raw" x="${px(at - 4)}" y="${px(up - 4)}" width="8" height="8"/>`;
  const factor =
    point.factor === null
      ? null
      : markup`<text class="quiet" x="${px(at)}" y="${px(up - 12)}" text-anchor="middle">${point.factor.toFixed(2)}</text>`;
  return markup`${mark}${factor}`;
}

function pointInWords(point: CurvePoint): string {
  const read = point.riseF === null ? "not measured" : `read ${point.riseF.toFixed(0)}`;
  const truth = point.trueF === null ? "" : `, truly ${point.trueF.toFixed(0)}`;
  const factor = point.factor === null ? "" : `, ${ENGINE} factor ${point.factor.toFixed(2)}`;
  return `mile ${point.miles.toFixed(0)}: ${read}${truth}${factor}`;
}
