import type { Calibration } from "../bearing/calibration.ts";
import type { Log, LogRecord, Tail } from "../log/log.ts";
import type { SiteCondition } from "../site/condition.ts";
import type { Warning } from "../warning/warning.ts";
import type { Cell, Family } from "./cells.ts";
import type { Logger } from "./logger.ts";
import type { Metrics } from "./metrics.ts";
import { OpenRecords } from "./open-records.ts";

/** Read as committed, from the start of what the log keeps: so that what is open is known right after a restart. */
export const PUBLISHED_TOPICS = ["warnings", "site-conditions", "calibrations"] as const;
type PublishedTopic = (typeof PUBLISHED_TOPICS)[number];

/** A temperature difference converts without the 32. */
const CELSIUS_PER_FAHRENHEIT = 5 / 9;

export interface PublishedReader {
  close(): Promise<void>;
  readonly broken: Promise<Error>;
}

/**
 * Tells what is open (warnings, site conditions) and the scanners' bias from the published topics themselves, whichever
 * process wrote them. So every process tells the same: rules take the greatest over processes, not the sum.
 */
export async function startPublished(log: Pick<Log, "extent" | "tail">, metrics: Metrics, logger: Logger): Promise<PublishedReader> {
  const from: { topic: string; partition: number; offset: number }[] = [];
  const startEnd = new Map<string, number>();
  for (const topic of PUBLISHED_TOPICS) {
    for (const { partition, from: offset, end } of await log.extent(topic)) {
      from.push({ topic, partition, offset });
      startEnd.set(`${topic}/${partition}`, end);
    }
  }
  const state = new Published(metrics, logger);
  const tail: Tail = await log.tail(from, {
    records: async ({ topic, partition, records }) => {
      const before = startEnd.get(`${topic}/${partition}`) ?? 0;
      for (const record of records) state.take(record, record.offset >= before);
      state.tell();
    },
  });
  return tail;
}

/** What is kept of an open warning. */
interface OpenWarning extends Pick<Warning, "id" | "version" | "level" | "state"> {
  sinceMs: number;
}

/** The state behind the numbers. */
export class Published {
  readonly #metrics: Metrics;
  readonly #logger: Logger;
  readonly #warningsOpen: OpenCounts;
  readonly #conditionsOpen: OpenCounts;
  readonly #warnings = new OpenRecords<OpenWarning>(({ state }) => state !== "cleared" && state !== "withdrawn");
  readonly #conditions = new OpenRecords<SiteCondition>(({ state }) => state !== "cleared");

  constructor(metrics: Metrics, logger: Logger) {
    this.#metrics = metrics;
    this.#warningsOpen = new OpenCounts(metrics.families.warningsOpen);
    this.#conditionsOpen = new OpenCounts(metrics.families.conditions);
    this.#logger = logger;
  }

  /** `isNew`: written since this process started, so that it counts. What cannot be read is said and left. */
  take(record: Pick<LogRecord, "topic" | "value" | "partition" | "offset" | "arrivedMs">, isNew: boolean): void {
    try {
      const value: unknown = JSON.parse(Buffer.from(record.value).toString("utf8"));
      switch (record.topic as PublishedTopic) {
        case "warnings":
          this.#warning(value as Warning, isNew, record.arrivedMs);
          break;
        case "site-conditions":
          this.#condition(value as SiteCondition, isNew);
          break;
        case "calibrations":
          this.#calibration(value as Calibration);
          break;
      }
    } catch (error) {
      const { topic, partition, offset } = record;
      this.#logger.error("published-unreadable", `${topic}/${partition} at ${offset} could not be read`, {
        topic,
        partition,
        offset,
        error,
      });
    }
  }

  /** Sets the numbers of what is open; called once a batch. */
  tell(): void {
    const { oldestUnacknowledged } = this.#metrics.families;
    this.#warningsOpen.begin();
    for (const level of LEVELS) oldestUnacknowledged.cell(level).set(Number.POSITIVE_INFINITY);
    for (const { level, state, sinceMs } of this.#warnings.values()) {
      this.#warningsOpen.add(level, state);
      if (state !== "unacknowledged") continue;
      const oldest = oldestUnacknowledged.cell(level);
      oldest.set(Math.min(oldest.value, sinceMs));
    }
    this.#conditionsOpen.begin();
    for (const { site, kind, alarm } of this.#conditions.values()) this.#conditionsOpen.add(site, kind, alarm ?? "unacknowledged");
  }

  #warning(warning: Warning, isNew: boolean, arrivedMs: number): void {
    const { id, version, level, state } = warning;
    const sinceMs = waitingSince(warning, this.#warnings.get(id));
    const taken = this.#warnings.take({ id, version, level, state, sinceMs });
    if (!isNew || taken.change !== "taken") return;
    const { warnings, warningDelay } = this.#metrics.families;
    warnings.cell(level, changeOf(warning, taken.before)).add();
    if (version !== 1) return;
    const { site, train, place } = warning;
    const delaySeconds = Math.max(0, (arrivedMs - Date.parse(warning.time)) / 1_000);
    warningDelay.observe(delaySeconds);
    this.#logger.info("warning-raised", `${level}: ${place}`, { warning: id, level, site, train, delaySeconds });
    const { lateMinutes } = warning;
    if (lateMinutes !== undefined) {
      this.#logger.warn("warning-late", "It was made from data that was old already.", { warning: id, level, site, train, lateMinutes });
    }
  }

  #condition(condition: SiteCondition, isNew: boolean): void {
    const taken = this.#conditions.take(condition);
    // Raised and over within one batch, it was never told; a process before this one may have told it.
    this.#conditionsOpen.see(condition.site, condition.kind, condition.alarm ?? "unacknowledged");
    if (!isNew || taken.change !== "taken") return;
    const { id, site, device, kind, state, words } = condition;
    const said = { condition: id, site, device, kind, state };
    if (state === "cleared") {
      this.#logger.info("site-condition-cleared", words, said);
    } else if (taken.before === null) {
      this.#metrics.families.conditionsRaised.cell(kind).add();
      this.#logger.info("site-condition-raised", words, said);
    }
  }

  #calibration({ site, track, rail, biasF }: Calibration): void {
    this.#metrics.families.siteBias.cell(site, track, rail).set(biasF * CELSIUS_PER_FAHRENHEIT);
  }
}

/** Counts of what is open. What is over is told as 0: gone, it could not be told from a process that is gone. */
class OpenCounts {
  readonly #family: Family;
  readonly #cells = new Set<Cell>();

  constructor(family: Family) {
    this.#family = family;
  }

  begin(): void {
    for (const cell of this.#cells) cell.set(0);
  }

  add(...labels: string[]): void {
    this.see(...labels).add();
  }

  /** Will be told, if only as 0. */
  see(...labels: string[]): Cell {
    const cell = this.#family.cell(...labels);
    if (!this.#cells.has(cell)) cell.set(0);
    this.#cells.add(cell);
    return cell;
  }
}

const LEVELS = ["watch", "warn", "limit"] as const;

/** Since when somebody should have acknowledged it: a new version of the same level does not begin the wait again. */
function waitingSince({ level, time }: Warning, before: OpenWarning | null): number {
  const goesOn = before !== null && before.level === level && before.state === "unacknowledged";
  return goesOn ? before.sinceMs : Date.parse(time);
}

/** What a version of a warning was: raised, raised-further, corrected, withdrawn, cleared or updated. */
function changeOf(warning: Warning, before: OpenWarning | null): string {
  if (warning.state === "withdrawn" || warning.state === "cleared") return warning.state;
  if (before === null) return warning.version === 1 ? "raised" : "updated";
  if (warning.correction) return "corrected";
  return LEVELS.indexOf(warning.level) > LEVELS.indexOf(before.level) ? "raised-further" : "updated";
}
