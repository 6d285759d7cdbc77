import { mkdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { Command, InvalidArgumentError } from "commander";
import { readFeed } from "../feed/feed-file.ts";
import { decodeLine } from "../feed/feed-line.ts";
import { FeedUnreadable } from "../feed/feed-unreadable.ts";
import { RailroadFlow } from "../flow/railroad-flow.ts";
import type { Sink } from "../flow/sink.ts";
import type { Railroad } from "../line/railroad.ts";
import { loadConfig } from "../live/config.ts";
import { lately } from "../live/lately.ts";
import { CommandError, EXIT } from "../replay/exit-status.ts";
import { OutputUnwritable } from "../replay/outputs.ts";
import { lineOf, rulesOf } from "../replay/railroad-files.ts";
import { assertUsable } from "../replay/usable.ts";
import type { EquipmentSeen } from "./equipment-seen.ts";
import type { FunctionalTestRecord } from "./functional-test.ts";
import { testPage } from "./functional-test-page.ts";
import { type SiteRow, siteRows } from "./site-row.ts";
import { sitesText } from "./sites-text.ts";

/** Functional tests kept of one feed; the newest. */
const MOST_TESTS = 1_000;
/** The sites' own reports, joined with their passes, kept of one feed; the newest. */
const MOST_REPORTS = 5_000;

/** How far back a running process's log is folded, where nothing else is said: a day, and what was on its way then. */
const USUAL_HOURS = 26;
const MOST_HOURS = 24 * 14;

interface SitesOptions {
  line?: string;
  rules?: string;
  config?: string;
  hours: number;
  json?: true;
  tests?: string;
}

/** `bearing-rise sites`: every site as it stands at the end of a feed, by exactly the folds that run live. */
export function sitesCommand(): Command {
  return new Command("sites")
    .description(
      "Says how every site stands at the end of a feed, or now in a running process: heartbeats, trains missed, scanner bias, axle counts, tests due, open conditions.",
    )
    .argument("[feed...]", "feed files in order; - is standard input")
    .option("--line <path>", "line file of the railroad (YAML), or a folder of dated ones")
    .option("--rules <path>", "rules: a file, or a folder of dated ones")
    .option("--config <file>", "instead of feeds: the configuration of a running process, whose log is read")
    .option("--hours <hours>", "with --config: how far back its log is folded", hoursOf, USUAL_HOURS)
    .option("--json", "print the result as JSON")
    .option("--tests <folder>", "write a page (HTML) for each functional test that was closed, to be printed")
    .addHelpText(
      "after",
      "\nExample:\n  bearing-rise sites --line replay-data/line.yaml --rules replay-data/rules/standard replay-data/day.jsonl.zst\n  bearing-rise sites --config deploy/live.yaml",
    )
    .action(async (feeds: string[], options: SitesOptions) => {
      const { railroad, rows, atMs, tests, reports, read, rejected, cutShort } = await sitesAsked(feeds, options);
      if (options.tests !== undefined) writePages(options.tests, tests, railroad);
      const time = Number.isFinite(atMs) ? new Date(atMs).toISOString() : null;
      process.stdout.write(options.json === true ? `${JSON.stringify({ time, sites: rows, tests, reports })}\n` : sitesText(rows, atMs));
      if (cutShort !== null) throw cutShort;
      // A process that has only just begun may hold nothing yet.
      if (options.config === undefined) assertUsable(feeds, read, rejected);
    });
}

function hoursOf(text: string): number {
  const hours = Number(text);
  if (!(hours > 0 && hours <= MOST_HOURS)) throw new InvalidArgumentError(`a number of hours up to ${MOST_HOURS}.`);
  return hours;
}

async function sitesAsked(feeds: string[], { line, rules, config, hours }: SitesOptions): Promise<Sites> {
  if (config !== undefined) {
    if (feeds.length > 0 || line !== undefined || rules !== undefined)
      throw new CommandError(EXIT.usage, "bearing-rise: sites takes either --config, or --line, --rules and feeds.");
    const loaded = loadConfig(config);
    return await lately(loaded, hours, (feed) => sitesOf(loaded.railroad.line, loaded.railroad.rules, [feed]));
  }
  if (line === undefined || rules === undefined || feeds.length === 0)
    throw new CommandError(
      EXIT.usage,
      "bearing-rise: sites needs --line, --rules and at least one feed, or --config of a running process.",
    );
  return await sitesOf(line, rules, feeds);
}

interface Sites {
  railroad: Railroad;
  rows: SiteRow[];
  /** How far time has come. */
  atMs: number;
  tests: FunctionalTestRecord[];
  reports: EquipmentSeen[];
  /** Records of the feed, and those of them that could not be used. */
  read: number;
  rejected: number;
  /** Where the feed broke off: all this is what could be read up to there. Null when it was read to its end. */
  cutShort: FeedUnreadable | null;
}

/** The sites at the end of a feed, the functional tests closed in it, and the sites' own reports joined with their passes. @throws CommandError, FeedUnreadable */
export async function sitesOf(linePath: string, rulesPath: string, feeds: readonly string[]): Promise<Sites> {
  const railroad = lineOf(linePath);
  const tests: FunctionalTestRecord[] = [];
  const reports = new Map<string, EquipmentSeen>();
  const flow = new RailroadFlow(railroad, rulesOf(rulesPath), telling(tests, reports));
  const { read, rejected, cutShort } = await readAll(flow, feeds);
  const atMs = flow.eventMs;
  const rows = flow.watches.flatMap((watch) => siteRows(watch, atMs));
  // Only now: what is open or overdue at the end of the feed must not be settled away first.
  flow.finish();
  return { railroad, rows, atMs, tests, reports: [...reports.values()], read, rejected, cutShort };
}

/** Folds every record of every feed. Says where a feed broke off, if one did; those behind it are not read. */
async function readAll(flow: RailroadFlow, feeds: readonly string[]): Promise<Pick<Sites, "read" | "rejected" | "cutShort">> {
  let [read, rejected] = [0, 0];
  for (const [partition, path] of feeds.entries()) {
    try {
      for await (const batch of readFeed(path)) {
        for (const line of batch) {
          // Of a recorded feed they are assembled again.
          if (line.topic === "passes") continue;
          read++;
          const decoded = decodeLine(line, partition);
          const at = line.recorded ?? { partition, offset: line.line, arrivedMs: undefined };
          if (decoded.rejected === undefined) {
            if (flow.step(decoded.record, line.topic, at.partition, at.offset, at.arrivedMs) === "rejected") rejected++;
          } else {
            rejected++;
            flow.refused(decoded.rejected, line.key);
          }
        }
      }
    } catch (error) {
      if (error instanceof FeedUnreadable && error.line > 0) return { read, rejected, cutShort: error };
      throw error;
    }
  }
  return { read, rejected, cutShort: null };
}

function telling(tests: FunctionalTestRecord[], reports: Map<string, EquipmentSeen>): Sink {
  return {
    pass: () => {},
    warning: () => {},
    condition: () => {},
    calibration: () => {},
    rejected: () => {},
    settled: () => {},
    functionalTest: (record) => {
      tests.push(record);
      if (tests.length > MOST_TESTS) tests.shift();
    },
    equipment: (seen) => {
      reports.delete(seen.id);
      reports.set(seen.id, seen);
      if (reports.size > MOST_REPORTS) reports.delete(reports.keys().next().value as string);
    },
  };
}

function writePages(folder: string, tests: readonly FunctionalTestRecord[], railroad: Railroad): void {
  try {
    mkdirSync(folder, { recursive: true });
    for (const record of tests) writeFileSync(join(folder, `${record.id}.html`), testPage(record, railroad));
  } catch (error) {
    throw new OutputUnwritable("SITE-001 unwritable", folder, error, "Choose a folder that can be written to.");
  }
}
