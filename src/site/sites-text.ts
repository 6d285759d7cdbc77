import { type Column, tableLines } from "../replay/table.ts";
import { figure, printable, utcWords } from "../replay/words.ts";
import { conditionWords } from "./condition-words.ts";
import type { SiteRow } from "./site-row.ts";

const SITE_COLUMNS: readonly Column[] = [
  { head: "site" },
  { head: "state" },
  { head: "last heartbeat" },
  { head: "every", right: true },
  { head: "last pass" },
  { head: "trains missed", right: true },
  { head: "clock off", right: true },
  { head: "rejected", right: true },
];

const TRACK_COLUMNS: readonly Column[] = [
  { head: "site" },
  { head: "track" },
  { head: "left °F", right: true },
  { head: "a day", right: true },
  { head: "right °F", right: true },
  { head: "a day", right: true },
  { head: "axles compared", right: true },
  { head: "wrong per 1,000", right: true },
  { head: "test passed" },
  { head: "test due" },
];

/** All sites for people: what state, what is known of each track, what is open. */
export function sitesText(rows: readonly SiteRow[], atMs: number): string {
  const lines = [`Sites at ${utcWords(atMs)} (event time)`, "", ...tableLines(SITE_COLUMNS, rows.map(siteCells)), ""];
  lines.push(
    "Scanner bias against the neighbours, axle counts against theirs, and tests",
    "",
    ...tableLines(TRACK_COLUMNS, rows.flatMap(trackRows)),
  );
  const open = rows.flatMap(({ conditions }) => conditions);
  if (open.length > 0) lines.push("", "Open conditions");
  for (const { kind, raisedAt, alarm, priority, words } of open) {
    lines.push(
      `  ${conditionWords(kind)} (${priority ?? "medium"}, ${alarm ?? "unacknowledged"}) since ${utcWords(Date.parse(raisedAt))}: ${printable(words)}`,
    );
  }
  return `${lines.join("\n")}\n`;
}

function siteCells(row: SiteRow): string[] {
  return [
    row.site,
    row.state,
    when(row.lastHeartbeat),
    row.heartbeatMinutes === null ? "–" : `${figure(row.heartbeatMinutes, 1)} min`,
    when(row.lastPass),
    String(row.trainsMissed),
    row.clockOffS === null ? "–" : `${figure(row.clockOffS, 0)} s`,
    String(row.rejected),
  ];
}

function trackRows({ site, tracks }: SiteRow): string[][] {
  return tracks.map((track) => [
    site,
    track.track,
    ...track.scanners.flatMap(({ biasF, trendFPerDay }) => [figure(biasF, 1), figure(trendFPerDay, 1)]),
    String(track.axlesCompared),
    track.axlesCompared === 0 ? "–" : figure((1000 * track.axlesWrong) / track.axlesCompared, 2),
    when(track.testPassed),
    track.testOpenSince !== null
      ? `open since ${when(track.testOpenSince)}`
      : track.testAsked !== null
        ? `asked for: ${track.testAsked}`
        : when(track.testDue),
  ]);
}

function when(time: string | null): string {
  return time === null ? "–" : utcWords(Date.parse(time));
}
