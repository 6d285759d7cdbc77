import { createHash } from "node:crypto";
import { mkdirSync } from "node:fs";
import { join } from "node:path";
import { openFeedWriter } from "../feed/feed-writer.ts";
import { AXLES_A_RECORD } from "../feed/limits.ts";
import { loadLine } from "../line/line-file.ts";
import { formatMistakes, type Mistake } from "../line/mistake.ts";
import type { Railroad } from "../line/railroad.ts";
import { assumptionsText } from "./assumptions.ts";
import { type FeedText, lineOf } from "./feed-text.ts";
import { loadScenario, MOST_HOURS, MOST_TRAINS_PER_DAY, type Scenario } from "./scenario.ts";
import { ofScenario, type SimulateOptions, simulate } from "./simulate.ts";
import type { Truth } from "./truth.ts";
import { type WorldName, worldOf, worldsText } from "./worlds.ts";

const DEFAULT_SEED = 1;
const DEFAULT_HOURS = 24;
/** Lines between two looks at the progress. */
const LOOK_EVERY = 4096;

/** A line or scenario file with mistakes, or a wish that cannot be met: what and where stands in the message. */
export class SimulationRefused extends Error {
  readonly code: string;

  constructor(code: string, message: string) {
    super(message);
    this.name = "SimulationRefused";
    this.code = code;
  }
}

export interface RunSimulateOptions {
  line: string;
  out: string;
  /** Left out: the scenario's, else 1. */
  seed?: number | undefined;
  hours?: number | undefined;
  world?: string | undefined;
  scenario?: string | undefined;
  trainsPerDay?: number | undefined;
  group?: number | undefined;
  /** Names of the two files in `out`; packed by their endings. */
  feedName?: string | undefined;
  truthName?: string | undefined;
  /** Called now and then: share done (0..1) and where the feed is in event time. */
  progress?: ((share: number, atMs: number) => void) | undefined;
}

/** What was made. */
export interface Made {
  feed: string;
  truth: string;
  lines: number;
  trains: number;
  passes: number;
  axles: number;
  developing: number;
  crossed: number;
  failed: number;
  rollOvers: number;
  warm: number;
  brakes: number;
  siteFaults: number;
  /** SHA-256 of the feed's lines as they stand unpacked. */
  sha256: string;
}

/** Makes a feed and its truth as files. Throws SimulationRefused (SIM-010 to SIM-012). */
export async function runSimulate(options: RunSimulateOptions): Promise<Made> {
  const settings = settingsOf(options);
  mkdirSync(options.out, { recursive: true });
  const feedPath = join(options.out, options.feedName ?? "feed.jsonl.zst");
  const truthPath = join(options.out, options.truthName ?? "truth.jsonl");
  const made = nothingMade(feedPath, truthPath);
  const feed = openFeedWriter(feedPath);
  const truth = openFeedWriter(truthPath);
  const hash = createHash("sha256");
  const waiting: Promise<void>[] = [];
  const startMs = settings.startMs ?? Number.NaN;
  const tell = (item: Truth): void => {
    count(made, item);
    const wait = truth.writeRaw(JSON.stringify(item));
    if (wait !== undefined) waiting.push(wait);
  };
  for (const text of refusing(simulate({ ...settings, tell }))) {
    const line = lineOf(text);
    hash.update(line).update("\n");
    await feed.writeRaw(line);
    if (feed.lines % LOOK_EVERY === 0) {
      while (waiting.length > 0) await waiting.pop();
      options.progress?.(Math.min(1, (text.atMs - startMs) / (settings.hours * 3_600_000)), text.atMs);
    }
  }
  await Promise.all([feed.close(), truth.close()]);
  made.lines = feed.lines;
  made.sha256 = hash.digest("hex");
  return made;
}

/** The settings that a command's options stand for: what is given outright goes before the scenario. */
export function settingsOf(options: RunSimulateOptions): SimulateOptions & { startMs: number } {
  const railroad: Railroad = wholeOr("line", loadLine(options.line), (read) => read.railroad);
  let settings: SimulateOptions = { railroad, seed: DEFAULT_SEED, hours: DEFAULT_HOURS, world: "ordinary" };
  if (options.scenario !== undefined) {
    const scenario: Scenario = wholeOr("scenario", loadScenario(options.scenario), (read) => read.scenario);
    settings = refused(() => ofScenario(railroad, scenario));
  }
  const { seed, hours, world, trainsPerDay, group } = options;
  if (hours !== undefined && !(hours > 0 && hours <= MOST_HOURS)) {
    throw new SimulationRefused("SIM-012", `SIM-012 --hours ${hours}: more than 0 and up to ${MOST_HOURS} is wanted`);
  }
  if (trainsPerDay !== undefined && !(trainsPerDay > 0 && trainsPerDay <= MOST_TRAINS_PER_DAY)) {
    throw new SimulationRefused(
      "SIM-012",
      `SIM-012 --trains-per-day ${trainsPerDay}: more than 0 and up to ${MOST_TRAINS_PER_DAY} is wanted`,
    );
  }
  if (group !== undefined && !(Number.isInteger(group) && group >= 1 && group <= AXLES_A_RECORD)) {
    throw new SimulationRefused("SIM-012", `SIM-012 --group ${group}: a whole number from 1 to ${AXLES_A_RECORD} is wanted`);
  }
  return {
    ...settings,
    seed: seed ?? settings.seed,
    hours: hours ?? settings.hours,
    world: world === undefined ? settings.world : refused(() => worldOf(world).name as WorldName),
    trainsPerDay: trainsPerDay ?? settings.trainsPerDay,
    group,
    startMs: settings.startMs ?? Date.UTC(2026, 2, 4),
  };
}

/** The list for `--assumptions`. */
export function assumptionsPage(): string {
  return `${assumptionsText()}\n\n${worldsText()}\n`;
}

/** What was made, for people. */
export function madeText(made: Made): string {
  const rows: [string, string][] = [
    ["feed", `${made.feed} (${made.lines.toLocaleString("en-US")} records)`],
    ["truth", made.truth],
    ["trains", `${made.trains} with ${made.passes} passes, ${made.axles.toLocaleString("en-US")} axles read`],
    [
      "bearings",
      `${made.developing} developing (${made.crossed} reached the limit, ${made.failed} failed), ${made.rollOvers} roll-over, ${made.warm} warm`,
    ],
    ["brakes", `${made.brakes} vehicles with stuck brakes`],
    ["sites", `${made.siteFaults} faults`],
    ["sha-256", made.sha256],
  ];
  return rows.map(([name, words]) => `${name.padEnd(9)} ${words}`).join("\n") + "\n";
}

function nothingMade(feed: string, truth: string): Made {
  const zero = {
    lines: 0,
    trains: 0,
    passes: 0,
    axles: 0,
    developing: 0,
    crossed: 0,
    failed: 0,
    rollOvers: 0,
    warm: 0,
    brakes: 0,
    siteFaults: 0,
  };
  return { feed, truth, ...zero, sha256: "" };
}

function count(made: Made, item: Truth): void {
  if (item.type === "train") made.trains++;
  else if (item.type === "brakes") made.brakes++;
  else if (item.type === "site") made.siteFaults += item.faults.length;
  else if (item.type === "pass") {
    made.passes++;
    for (const run of item.rows) made.axles += run[2];
  } else if (item.type === "bearing") {
    if (item.kind === "developing") made.developing++;
    if (item.kind === "roll-over") made.rollOvers++;
    if (item.kind === "warm") made.warm++;
    if (item.crossing !== null && item.kind === "developing") made.crossed++;
    if (item.failure !== null) made.failed++;
  }
}

function wholeOr<R extends { mistakes: Mistake[] }, T>(what: string, read: R, pick: (read: R) => T | null): T {
  const value = pick(read);
  if (value === null || read.mistakes.length > 0) {
    throw new SimulationRefused("SIM-010", `SIM-010 the ${what} file has mistakes:\n${formatMistakes(read.mistakes)}`);
  }
  return value;
}

function refused<T>(make: () => T): T {
  try {
    return make();
  } catch (error) {
    if (error instanceof RangeError) throw new SimulationRefused("SIM-011", error.message);
    throw error;
  }
}

function* refusing(texts: Generator<FeedText>): Generator<FeedText> {
  try {
    yield* texts;
  } catch (error) {
    if (error instanceof RangeError && error.message.startsWith("SIM-")) throw new SimulationRefused("SIM-011", error.message);
    throw error;
  }
}
