import { decodeLine, type FeedLine } from "../feed/feed-line.ts";
import type { FeedRecord, Rejected } from "../feed/record.ts";
import type { Railroad } from "../line/railroad.ts";
import { tableLines } from "./table.ts";
import { countOf, countWords, printable, shortened, utcWords } from "./words.ts";

/** Places that are shown of each reason or unknown site; the count says how many there are. */
const PLACES_SHOWN = 3;
/** Unknown sites and tracks told apart; those beyond are only counted. */
const MAX_UNKNOWN = 200;
const SHOWN_CHARACTERS = 80;

interface Tally {
  count: number;
  /** Line numbers, with the path inside the record where there is one. */
  places: string[];
}

/** What a feed holds, record by record, without folding it: for a first look at a file. Bounded whatever the feed. */
export interface Census {
  records: number;
  accepted: number;
  rejected: number;
  axles: number;
  unknownFields: number;
  /** Accepted records by `topic type`. */
  types: Map<string, number>;
  /** Rejected records by reason. */
  reasons: Map<string, Tally & { expected: string; advice: string }>;
  /** Sites or `site/track` that the line file does not know. */
  unknown: Map<string, Tally>;
  unknownBeyond: number;
  firstMs: number;
  lastMs: number;
}

export function emptyCensus(): Census {
  return {
    records: 0,
    accepted: 0,
    rejected: 0,
    axles: 0,
    unknownFields: 0,
    types: new Map(),
    reasons: new Map(),
    unknown: new Map(),
    unknownBeyond: 0,
    firstMs: Number.POSITIVE_INFINITY,
    lastMs: Number.NEGATIVE_INFINITY,
  };
}

/** Counts one line of a feed. Without a railroad, sites are not looked up. */
export function countLine(census: Census, line: FeedLine, railroad: Railroad | null): void {
  // A recorded day also holds what was made of it.
  if (line.topic === "passes") return;
  const decoded = decodeLine(line);
  census.records++;
  if (decoded.rejected !== undefined) {
    countRejected(census, decoded.rejected, line.line);
    return;
  }
  census.accepted++;
  census.unknownFields += decoded.unknownFields;
  const { record } = decoded;
  const type = `${line.topic} ${record.type}`;
  census.types.set(type, (census.types.get(type) ?? 0) + 1);
  if (record.type === "axles") census.axles += record.ms.length;
  else countTime(census, Date.parse(record.time));
  if (railroad !== null) countSite(census, record, line.line, railroad);
}

function countRejected(census: Census, rejected: Rejected, line: number): void {
  census.rejected++;
  const tally = census.reasons.get(rejected.reason) ?? { count: 0, places: [], expected: rejected.expected, advice: rejected.advice };
  census.reasons.set(rejected.reason, tally);
  note(tally, rejected.path === "" ? `line ${line}` : `line ${line} at ${rejected.path}`);
}

function countTime(census: Census, ms: number): void {
  census.firstMs = Math.min(census.firstMs, ms);
  census.lastMs = Math.max(census.lastMs, ms);
}

function countSite(census: Census, record: FeedRecord, line: number, railroad: Railroad): void {
  if (!("site" in record) || record.site === undefined) return;
  const site = railroad.sites.get(record.site);
  const track = "track" in record ? record.track : null;
  if (site !== undefined && (track === null || site.tracks.some(({ id }) => id === track))) return;
  const name = site === undefined ? record.site : `${record.site}/${track}`;
  let tally = census.unknown.get(name);
  if (tally === undefined) {
    if (census.unknown.size >= MAX_UNKNOWN) {
      census.unknownBeyond++;
      return;
    }
    tally = { count: 0, places: [] };
    census.unknown.set(name, tally);
  }
  note(tally, `line ${line}`);
}

function note(tally: Tally, place: string): void {
  tally.count++;
  if (tally.places.length < PLACES_SHOWN) tally.places.push(place);
}

/** The census for people. */
export function censusText(census: Census): string {
  const { records, accepted, rejected, axles } = census;
  const lines = [
    `${countOf(records, "record")}: ${countWords(accepted)} readable, ${countWords(rejected)} rejected; ${countWords(axles)} axles`,
  ];
  if (census.firstMs <= census.lastMs) lines.push(`from ${utcWords(census.firstMs)} to ${utcWords(census.lastMs)}`);
  if (census.unknownFields > 0) lines.push(`${countOf(census.unknownFields, "field")} that the contract does not know: kept out, no error`);
  if (census.types.size > 0) {
    const rows = [...census.types].sort(byName).map(([name, count]) => [...name.split(" "), countWords(count)]);
    lines.push("", ...tableLines([{ head: "topic" }, { head: "type" }, { head: "records", right: true }], rows, "  "));
  }
  if (census.reasons.size > 0) lines.push("", "Rejected");
  for (const [reason, tally] of [...census.reasons].sort(byName)) {
    lines.push(`  ${countWords(tally.count)} ${printable(reason)}: ${placesOf(tally)}`);
    lines.push(`    expected: ${printable(shortened(tally.expected, SHOWN_CHARACTERS))}`, `    to do: ${printable(tally.advice)}`);
  }
  if (census.unknown.size > 0) lines.push("", "Sites or tracks that the line file does not know");
  for (const [name, tally] of [...census.unknown].sort(byName)) {
    lines.push(`  ${printable(name)}: ${countOf(tally.count, "record")}, ${placesOf(tally)}`);
  }
  if (census.unknownBeyond > 0) lines.push(`  and ${countOf(census.unknownBeyond, "record")} of still other sites`);
  return lines.join("\n") + "\n";
}

/** The census for programs. */
export function censusJson(census: Census): object {
  const { records, accepted, rejected, axles, unknownFields, unknownBeyond, firstMs, lastMs } = census;
  const span = firstMs <= lastMs ? { from: new Date(firstMs).toISOString(), to: new Date(lastMs).toISOString() } : null;
  const list = <T extends object>(map: Map<string, T>) => [...map].sort(byName).map(([name, tally]) => ({ name, ...tally }));
  const types = Object.fromEntries([...census.types].sort(byName));
  return {
    records,
    accepted,
    rejected,
    axles,
    unknownFields,
    span,
    types,
    reasons: list(census.reasons),
    unknown: list(census.unknown),
    unknownBeyond,
  };
}

function placesOf(tally: Tally): string {
  return (
    tally.places.map((place) => printable(shortened(place, SHOWN_CHARACTERS))).join(", ") +
    (tally.count > tally.places.length ? ", ..." : "")
  );
}

function byName(a: [string, unknown], b: [string, unknown]): number {
  return a[0] < b[0] ? -1 : a[0] > b[0] ? 1 : 0;
}
