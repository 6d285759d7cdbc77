import { DAY_LIMITS } from "./day.ts";
import type { Summary, SummaryWarning } from "./summary.ts";
import { chanceWords, countOf, countWords, figure, msOf, otherLimitWords, printable, shortened, utcWords } from "./words.ts";
import { wrapped } from "./wrapped.ts";

/** Longest list on a terminal; the files have them all. */
const MOST_LISTED = 40;
const LABEL_COLUMNS = 12;
/** Under the level of a warning. */
const INDENT = 9;

const ENDING_WORDS: Record<SummaryWarning["ending"], string> = {
  limit: "reached the limit",
  "came-to-nothing": "came to nothing: measured again and not at the limit",
  "not-seen-again": "not measured again",
  watch: "stayed a watch",
  information: "information, not a bearing",
  withdrawn: "withdrawn: a late pass changed what had been said",
};

/**
 * The summary for a terminal: accounts, then the warnings in order of time. Plain text without colour, so that it can be
 * piped and read aloud; control characters in data are shown, not obeyed.
 */
export function summaryText(summary: Summary): string {
  const lines = [...headLines(summary), "", ...accountLines(summary)];
  const { list } = summary.warnings;
  const standing = list.filter((warning) => warning.ending !== "withdrawn");
  // Watches ask nothing of a crew: they are counted here and listed in the report.
  const urgent = standing.filter((warning) => warning.level !== "watch");
  const listed = urgent.slice(0, MOST_LISTED);
  if (listed.length > 0) lines.push("", "Warnings in order of time (UTC)");
  for (const warning of listed) lines.push(...warningLines(warning));
  const watches = standing.length - urgent.length;
  if (urgent.length > listed.length)
    lines.push("", `  and ${countWords(urgent.length - listed.length)} more of these: see the report or warnings.jsonl.`);
  if (watches > 0)
    lines.push("", `  ${watches === 1 ? "1 watch is" : `${countWords(watches)} watches are`} in the report and in warnings.jsonl.`);
  const conditions = summary.conditions.list.slice(0, MOST_LISTED);
  if (conditions.length > 0) lines.push("", "Site conditions in order of time (UTC)");
  for (const { kind, state, site, device, raisedAt, words } of conditions) {
    const where = device === "" ? site : `${site} ${device}`;
    lines.push(
      ...wrapped(`${shortUtc(raisedAt).slice(0, 11)}  ${pad(kind, 12)} ${pad(state, 8)} ${printable(where)}: ${printable(words)}`, 2, 36),
    );
  }
  if (summary.conditions.list.length > conditions.length) {
    lines.push(`  and ${summary.conditions.list.length - conditions.length} more: see the report or site-conditions.jsonl.`);
  }
  lines.push("", ...wrapped(summary.caution, 0, 0));
  return `${lines.join("\n")}\n`;
}

function headLines(summary: Summary): string[] {
  const { railroad, span, rules, narrowed, cutShort } = summary;
  const lines = [`${printable(railroad.name)}${railroad.demonstration ? " (invented, for demonstration)" : ""}`];
  lines.push(labelled("day", span === null ? "no pass" : `${utcWords(msOf(span.from))} to ${utcWords(msOf(span.to))}`));
  lines.push(labelled("rules", rules.length === 0 ? "none" : rules.map(printable).join(", ")));
  if (narrowed !== null) lines.push(labelled("reported", `${printable(narrowed)}; everything was folded`));
  if (isNothingOfIt(summary))
    lines.push(labelled("NOTHING", "no pass and no warning of the feed is of what was asked for: check its name and the times"));
  if (cutShort !== null)
    lines.push(
      labelled("CUT SHORT", `${printable(cutShort.feed)} could be read up to line ${countWords(cutShort.line)} only (${cutShort.code})`),
    );
  return lines;
}

/** A name that was mistyped must not be told as a train that nothing is wrong with. */
function isNothingOfIt({ narrowed, reported }: Summary): boolean {
  return narrowed !== null && reported.trains === 0 && reported.warnings === 0 && reported.conditions === 0;
}

function accountLines(summary: Summary): string[] {
  const { records, passes, joins, warnings, conditions, overflow } = summary;
  const { used, late, repeated, rejected } = records.outcomes;
  const sum = `${countWords(used)} used, ${countWords(late)} late, ${countWords(repeated)} repeated, ${countWords(rejected)} rejected`;
  const withdrawn = warnings.byEnding.withdrawn ?? 0;
  const doubts = Object.entries(joins.doubts).map(([kind, count]) => `${countWords(count)} ${kind}`);
  const lines = [
    labelled("records", `${countWords(records.read)} read: ${sum}${records.accounted ? "" : "; THESE DO NOT ADD UP: please report it"}`),
    ...summary.rejected.map(({ reason, count }) => labelled("", `rejected ${countWords(count)}: ${printable(shortened(reason, 60))}`)),
    labelled("axles", `${countWords(summary.axles)} read, ${countOf(summary.bearingsFollowed, "bearing")} followed one by one`),
    labelled("passes", `${countWords(passes.count)}, joined to an earlier site ${countWords(joins.made)}`),
    labelled(
      "joins",
      `${countWords(joins.edited)} with cars set out, picked up or miscounted, ${countWords(joins.flipped)} run the other way round`,
    ),
    labelled("doubted", doubts.length === 0 ? "no join" : doubts.join(", ")),
    labelled(
      "warnings",
      `${countWords(warnings.byLevel.limit)} limit, ${countWords(warnings.byLevel.warn)} warn, ${countWords(warnings.byLevel.watch)} watch`,
    ),
    labelled("", `${countOf(warnings.limitWithoutEarlierWarn.length, "limit reading")} had no earlier warn`),
    labelled("", `${countOf(warnings.cameToNothing.length, "warn")} came to nothing`),
    ...(withdrawn === 0 ? [] : [labelled("", `${countWords(withdrawn)} more withdrawn: a late pass changed what had been said`)]),
    labelled("sites", `${countOf(conditions.raised, "condition")} raised, ${countWords(conditions.open)} still open`),
  ];
  if (overflow.warnings > 0)
    lines.push(labelled("not kept", `${countOf(overflow.warnings, "warning")} over the limit of ${countWords(DAY_LIMITS.warnings)}`));
  return lines;
}

function warningLines({ level, train, told, last, leadMiles, ending }: SummaryWarning): string[] {
  const when = shortUtc(told.time);
  const name = printable(train ?? "not named");
  const indented = (text: string) => wrapped(text, INDENT, INDENT);
  const lines = [
    "",
    `  ${pad(level.toUpperCase(), 6)} ${when}  train ${name}  at ${printable(told.site)} track ${printable(told.track)}`,
    ...indented(printable(told.place)),
    ...indented(
      `${heatWords(told)}rise ${figure(told.riseF, 1)} °F, ${limitWords(level, told)}, ${figure(told.slopeFPerMile, 2)} °F a mile${aheadWords(level, told)}`,
    ),
  ];
  if (told.setOut !== null) {
    const { name: place, milepost, miles } = told.setOut;
    lines.push(...indented(`set out at ${printable(place)}, milepost ${figure(milepost, 1)}, ${figure(miles, 1)} miles on`));
  }
  lines.push(...indented(printable(told.advice)));
  const lead = leadMiles === null ? "" : `, ${figure(leadMiles, 1)} miles after the first warn`;
  const since = last.time === told.time ? "" : `; ${lastWords(last)}`;
  lines.push(...indented(`${ENDING_WORDS[ending]}${lead}${since}`));
  return lines;
}

function limitWords(level: SummaryWarning["level"], { riseF, limitF }: SummaryWarning["told"]): string {
  const other = otherLimitWords({ level, riseF, limitF });
  return `limit ${figure(limitF, 0)}${other === "" ? "" : ` (${other})`}`;
}

/** "–" would be taken for a reading that is low. */
function lastWords({ riseF, site }: SummaryWarning["last"]): string {
  return riseF === null ? `not measured at ${printable(site)}` : `last read ${figure(riseF, 1)} °F at ${printable(site)}`;
}

/** 03-04 05:06:07 */
function shortUtc(time: string): string {
  return utcWords(msOf(time)).slice(5, 19).replace("T", " ");
}

function heatWords({ heat }: SummaryWarning["told"]): string {
  return heat === "bearing" || heat === "none" ? "" : `${heat}: `;
}

function aheadWords(level: SummaryWarning["level"], { crossing, chanceBeforeNextSite }: SummaryWarning["told"]): string {
  if (level === "limit") return "";
  const chance = `chance of the limit before the next site ${chanceWords(chanceBeforeNextSite)}`;
  if (crossing === null) return `; ${chance}`;
  return `; the limit in ${figure(crossing.miles, 1)} miles (${figure(crossing.low, 1)} to ${figure(crossing.high, 1)}), ${chance}`;
}

function labelled(label: string, text: string): string {
  return wrapped(text, LABEL_COLUMNS, LABEL_COLUMNS).join("\n").replace(" ".repeat(LABEL_COLUMNS), pad(label, LABEL_COLUMNS));
}

function pad(text: string, columns: number): string {
  return text.padEnd(columns);
}
