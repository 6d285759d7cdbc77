import { mkdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { Command } from "commander";
import { readFeed } from "../feed/feed-file.ts";
import { decodeLine } from "../feed/feed-line.ts";
import { RailroadFlow } from "../flow/railroad-flow.ts";
import type { Sink } from "../flow/sink.ts";
import { EXIT } from "../replay/exit-status.ts";
import { OutputUnwritable } from "../replay/outputs.ts";
import { lineOf, rulesOf } from "../replay/railroad-files.ts";
import type { EquipmentSeen } from "./equipment-seen.ts";
import type { FunctionalTestRecord } from "./functional-test.ts";
import { testPage } from "./functional-test-page.ts";
import { type SiteRow, siteRows } from "./site-row.ts";
import { sitesText } from "./sites-text.ts";

/** Functional tests kept of one feed; the newest. */
const MOST_TESTS = 1_000;
/** The sites' own reports, joined with their passes, kept of one feed; the newest. */
const MOST_REPORTS = 5_000;

interface SitesOptions {
  line: string;
  rules: string;
  json?: true;
  tests?: string;
}

/** `bearing-rise sites`: every site as it stands at the end of a feed, by exactly the folds that run live. */
export function sitesCommand(): Command {
  return new Command("sites")
    .description(
      "Says how every site stands at the end of a feed: heartbeats, trains missed, scanner bias, axle counts, tests due, open conditions.",
    )
    .requiredOption("--line <path>", "line file of the railroad (YAML), or a folder of dated ones")
    .requiredOption("--rules <path>", "rules: a file, or a folder of dated ones")
    .argument("<feed...>", "feed files in order; - is standard input")
    .option("--json", "print the result as JSON")
    .option("--tests <folder>", "write a page (HTML) for each functional test that was closed, to be printed")
    .addHelpText(
      "after",
      "\nExample:\n  bearing-rise sites --line replay-data/line.yaml --rules replay-data/rules/standard replay-data/day.jsonl.zst",
    )
    .action(async (feeds: string[], options: SitesOptions) => {
      const { rows, atMs, tests, reports } = await sitesOf(options.line, options.rules, feeds);
      if (options.tests !== undefined) writePages(options.tests, tests);
      const time = Number.isFinite(atMs) ? new Date(atMs).toISOString() : null;
      process.stdout.write(options.json === true ? `${JSON.stringify({ time, sites: rows, tests, reports })}\n` : sitesText(rows, atMs));
      process.exitCode = EXIT.done;
    });
}

/** The sites at the end of a feed, the functional tests closed in it, and the sites' own reports joined with their passes. @throws CommandError, FeedUnreadable */
export async function sitesOf(
  linePath: string,
  rulesPath: string,
  feeds: readonly string[],
): Promise<{ rows: SiteRow[]; atMs: number; tests: FunctionalTestRecord[]; reports: EquipmentSeen[] }> {
  const railroad = lineOf(linePath);
  const tests: FunctionalTestRecord[] = [];
  const reports = new Map<string, EquipmentSeen>();
  const flow = new RailroadFlow(railroad, rulesOf(rulesPath), telling(tests, reports));
  for (const [partition, path] of feeds.entries()) {
    for await (const batch of readFeed(path)) {
      for (const line of batch) {
        const decoded = decodeLine(line, partition);
        if (decoded.rejected === undefined) flow.step(decoded.record, line.topic, partition, line.line);
        else flow.refused(decoded.rejected, line.key);
      }
    }
  }
  const atMs = flow.eventMs;
  const rows = flow.watches.flatMap((watch) => siteRows(watch, atMs));
  // Only now: what is open or overdue at the end of the feed must not be settled away first.
  flow.finish();
  return { rows, atMs, tests, reports: [...reports.values()] };
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

function writePages(folder: string, tests: readonly FunctionalTestRecord[]): void {
  try {
    mkdirSync(folder, { recursive: true });
    for (const record of tests) writeFileSync(join(folder, `${record.id}.html`), testPage(record));
  } catch (error) {
    throw new OutputUnwritable("SITE-001 unwritable", folder, error, "Choose a folder that can be written to.");
  }
}
