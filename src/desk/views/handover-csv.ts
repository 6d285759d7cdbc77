import type { Row } from "../board/row.ts";
import type { Handover } from "./handover-shape.ts";

type Event = Handover["events"][number];

const HEADINGS = ["time", "what", "about", "by", "words", "warning"];

/**
 * A handover as CSV (RFC 4180), a line each: all that is open, the most pressing first, with who has it; what happened; the
 * measures, by person where they are of one.
 */
export function handoverCsv(
  open: readonly Row[],
  events: readonly Event[],
  { measures, operators }: Pick<Handover, "measures" | "operators">,
): string {
  const lines = [HEADINGS, ...open.map(openLine), ...events.map(lineOf), ...measureLines(measures, operators)];
  return lines.map((cells) => cells.map(cell).join(",")).join("\r\n") + "\r\n";
}

/** The time is that of its first version; all else as it stands. */
function openLine({ id, raisedMs, level, state, train, place, owner, riseF, advice }: Row): string[] {
  const rise = riseF === null ? "not measured" : `${Math.floor(riseF)} °F above ambient`;
  const about = `train ${train ?? "without an id"}, ${place}`;
  return [
    new Date(raisedMs).toISOString(),
    "open",
    about,
    owner ?? "nobody",
    `${level}, ${state.replaceAll("-", " ")}: ${rise}. ${advice}`,
    id,
  ];
}

function measureLines(measures: Handover["measures"], operators: Handover["operators"]): string[][] {
  const time = new Date(measures.toMs).toISOString();
  const line = (about: string, by: string, value: number | string | null) => [
    time,
    "measure",
    about,
    by,
    value === null ? "" : wordsOf(value),
    "",
  ];
  const { alarms, floods, stale, shelved, unacknowledged, mostInWindow, perWindowAndOperator, perDayAndOperator, judgement } = measures;
  return [
    line("alarms", "", alarms),
    line("alarms in 10 minutes a person", "", perWindowAndOperator),
    line("alarms a day a person", "", perDayAndOperator),
    line("most alarms in 10 minutes", "", mostInWindow),
    line("floods", "", floods.length),
    line("open over 24 hours", "", stale),
    line("shelved", "", shelved),
    line("not acknowledged", "", unacknowledged),
    line("judgement", "", judgement),
    ...operators.flatMap((one) => {
      const by = one.name ?? "nobody";
      return [
        line("alarms answered first", by, one.alarms),
        line("alarms in 10 minutes", by, one.perWindow),
        line("alarms a day", by, one.perDay),
        line("most alarms in 10 minutes", by, one.mostInWindow),
        line("floods", by, one.floods),
        line("open warnings held", by, one.holds),
        line("of them open over 24 hours", by, one.stale),
        line("of them shelved", by, one.shelved),
        line("median minutes to the answer", by, one.minutesToAnswer),
        line("judgement", by, one.judgement),
      ];
    }),
  ];
}

function wordsOf(value: number | string): string {
  return typeof value === "string" ? value : String(Math.round(value * 1_000) / 1_000);
}

function lineOf({ timeMs, what, about, by, words, warning }: Event): string[] {
  return [new Date(timeMs).toISOString(), what, about, by ?? "", words, warning ?? ""];
}

/** A cell that a spreadsheet would take for a formula begins with an apostrophe instead: what people wrote must not compute. */
function cell(text: string): string {
  const safe = /^[=+\-@\t\r]/.test(text) ? `'${text}` : text;
  return /[",\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
}
