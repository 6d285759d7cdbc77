import { countWords, utcWords } from "./words.ts";

/** What a replay knows of itself at any moment. */
export interface Standing {
  bytes: number;
  /** null when the size is not known (standard input). */
  totalBytes: number | null;
  axles: number;
  /** Greatest event time so far; NaN before the first. */
  eventMs: number;
  warnings: number;
}

/** Where progress goes: standard error, or a fake in tests. */
export interface ProgressStream {
  write(text: string): unknown;
  isTTY?: boolean | undefined;
  columns?: number | undefined;
}

/** Often enough to look alive, seldom enough to cost nothing. */
const REDRAW_MS = 100;
/** Without a terminal each line stays in a log. */
const LINE_EVERY_MS = 5_000;
const BAR_CELLS = 24;
const USUAL_COLUMNS = 80;
const CLEAR_LINE = "\r\u001b[2K";

/**
 * Progress of a replay on a stream that is not the output: redrawn in place on a terminal, a line every few seconds
 * elsewhere, nothing when quiet. The clock is passed in; it moves nothing but this display.
 */
export class Progress {
  readonly #stream: ProgressStream;
  readonly #clock: () => number;
  readonly #quiet: boolean;
  readonly #beganMs: number;
  #shownMs = Number.NEGATIVE_INFINITY;
  #drawn = false;

  constructor(stream: ProgressStream, clock: () => number, quiet = false) {
    this.#stream = stream;
    this.#clock = clock;
    this.#quiet = quiet;
    this.#beganMs = clock();
    if (!this.#terminal) this.#shownMs = this.#beganMs;
  }

  /** Call as often as is convenient; it draws only when it is time. */
  show(standing: Standing): void {
    if (this.#quiet) return;
    const nowMs = this.#clock();
    if (nowMs - this.#shownMs < (this.#terminal ? REDRAW_MS : LINE_EVERY_MS)) return;
    this.#shownMs = nowMs;
    this.#draw(progressLine(standing, nowMs - this.#beganMs, this.#terminal));
  }

  /** The last standing, once; leaves a whole line behind. */
  finish(standing: Standing): void {
    if (this.#quiet) return;
    this.#draw(progressLine(standing, this.#clock() - this.#beganMs, this.#terminal));
    if (this.#terminal) this.#stream.write("\n");
    this.#drawn = false;
  }

  /** Takes the bar off a terminal before something else is written there, such as an error. */
  clear(): void {
    if (this.#drawn && this.#terminal) this.#stream.write(CLEAR_LINE);
    this.#drawn = false;
  }

  get #terminal(): boolean {
    return this.#stream.isTTY === true;
  }

  #draw(line: string): void {
    if (!this.#terminal) {
      this.#stream.write(`${line}\n`);
      return;
    }
    // A line that wraps could not be cleared again.
    this.#stream.write(CLEAR_LINE + line.slice(0, (this.#stream.columns ?? USUAL_COLUMNS) - 1));
    this.#drawn = true;
  }
}

/** One line: share of the bytes, axles a second, event time reached, warnings so far. */
export function progressLine(standing: Standing, elapsedMs: number, withBar: boolean): string {
  const { bytes, totalBytes, axles, eventMs, warnings } = standing;
  const share = totalBytes === null || totalBytes <= 0 ? null : Math.min(1, bytes / totalBytes);
  const parts: string[] = [];
  if (share === null) parts.push(`${countWords(bytes / 1e6)} MB`);
  else parts.push(`${withBar ? `${bar(share)} ` : ""}${String(Math.floor(share * 100)).padStart(3)} %`);
  const perSecond = elapsedMs > 0 ? (axles / elapsedMs) * 1_000 : 0;
  parts.push(`${countWords(perSecond)} axles/s`);
  if (Number.isFinite(eventMs)) parts.push(`${utcWords(eventMs).slice(0, 16).replace("T", " ")} UTC`);
  parts.push(`${countWords(warnings)} warnings`);
  return parts.join("  ");
}

function bar(share: number): string {
  const full = Math.floor(share * BAR_CELLS);
  return "█".repeat(full) + "░".repeat(BAR_CELLS - full);
}
