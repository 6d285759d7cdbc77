import { type DestinationStream, destination, pino } from "pino";
import { z } from "zod";
import type { LogEvent } from "./log-event.ts";
import { redact, redactText } from "./redaction.ts";

export const LOG_LEVELS = ["debug", "info", "warn", "error", "silent"] as const;

/** `telemetry.log` of the live configuration. */
export const loggerConfig = z.strictObject({
  level: z.enum(LOG_LEVELS).default("info").describe("Lines below this level are not written."),
});
export type LoggerConfig = z.infer<typeof loggerConfig>;

export type Fields = Readonly<Record<string, unknown>>;

/**
 * One line per thing that matters, as JSON, with a stable event name. `words` say it to a person; `fields` carry the facts
 * (an error as `error`). Never called for a record of the feed: those are counted.
 */
export interface Logger {
  debug(event: LogEvent, words: string, fields?: Fields): void;
  info(event: LogEvent, words: string, fields?: Fields): void;
  warn(event: LogEvent, words: string, fields?: Fields): void;
  error(event: LogEvent, words: string, fields?: Fields): void;
  /** The same log; every line of it also carries these fields. */
  child(fields: Fields): Logger;
  /** Lines held back so far because one event repeated too quickly. */
  readonly heldBack: number;
}

/** At most so many lines of one event in one window; the first line after tells how many were held back. */
export const LINES_PER_WINDOW = 60;
export const WINDOW_MS = 60_000;

export interface LoggerOptions {
  level?: LoggerConfig["level"];
  /** Where lines go; standard error when absent, so that standard output stays free for data. */
  to?: DestinationStream;
  /** Milliseconds since 1970, for the lines' time and for the bound. */
  now?: () => number;
}

interface Window {
  since: number;
  lines: number;
  heldBack: number;
}

/** The windows of all children of one log: a bound that a child could step around would be none. */
class Bound {
  readonly #windows = new Map<LogEvent, Window>();
  readonly #now: () => number;
  heldBack = 0;

  constructor(now: () => number) {
    this.#now = now;
  }

  /** null: hold the line back. Else how many lines of this event were held back before it. */
  admit(event: LogEvent): number | null {
    const now = this.#now();
    let window = this.#windows.get(event);
    if (window === undefined || now - window.since >= WINDOW_MS) {
      const before = window?.heldBack ?? 0;
      window = { since: now, lines: 0, heldBack: 0 };
      this.#windows.set(event, window);
      window.lines++;
      return before;
    }
    if (window.lines < LINES_PER_WINDOW) {
      window.lines++;
      return 0;
    }
    window.heldBack++;
    this.heldBack++;
    return null;
  }
}

/** Makes the log of a process. Secrets are taken out of every field and of all text (`redaction.ts`). */
export function createLogger(options: LoggerOptions = {}): Logger {
  const now = options.now ?? Date.now;
  const lines = pino(
    {
      level: options.level ?? "info",
      base: null,
      timestamp: () => `,"time":"${new Date(now()).toISOString()}"`,
      formatters: { level: (label) => ({ level: label }), log: (line) => redact(line) as Record<string, unknown> },
    },
    options.to ?? destination({ dest: 2, sync: true }),
  );
  return over(lines, new Bound(now), {});
}

/** A log that writes nothing, for tests of other rooms. */
export function silentLogger(): Logger {
  return createLogger({ level: "silent" });
}

function over(lines: pino.Logger, bound: Bound, own: Fields): Logger {
  const write = (level: "debug" | "info" | "warn" | "error", event: LogEvent, words: string, fields?: Fields) => {
    if (!lines.isLevelEnabled(level)) return;
    const heldBack = bound.admit(event);
    if (heldBack === null) return;
    lines[level]({ event, ...own, ...fields, ...(heldBack > 0 ? { heldBack } : {}) }, redactText(words));
  };
  return {
    debug: (event, words, fields) => write("debug", event, words, fields),
    info: (event, words, fields) => write("info", event, words, fields),
    warn: (event, words, fields) => write("warn", event, words, fields),
    error: (event, words, fields) => write("error", event, words, fields),
    child: (fields) => over(lines, bound, { ...own, ...fields }),
    get heldBack() {
      return bound.heldBack;
    },
  };
}
