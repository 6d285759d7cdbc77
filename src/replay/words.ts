/** Figures and times as people read them, for the terminal and the report. All pure; no locale of the machine is used. */

/** U+202A.. and U+2066..: marks that reorder what a reader sees; with them a hostile id could look like another one. */
const UNSEEN = /[\p{Cc}\p{Cs}\u061c\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufeff]/gu;

/**
 * Data made safe to print: control characters (a terminal obeys them), marks that reorder text and lone surrogates are
 * shown as their code instead of being acted upon.
 */
export function printable(text: string): string {
  return text.replace(UNSEEN, (character) => `\\u{${(character.codePointAt(0) ?? 0).toString(16)}}`);
}

/** Cut to `most` characters, saying so with an ellipsis. */
export function shortened(text: string, most: number): string {
  return text.length <= most ? text : `${text.slice(0, most - 1).toWellFormed()}…`;
}

/** 1234567 -> "1,234,567". */
export function countWords(count: number): string {
  return String(Math.round(count)).replace(/\B(?=(\d{3})+(?!\d))/g, ",");
}

/** "1 record", "2 records": the noun gets its s. */
export function countOf(count: number, noun: string): string {
  return `${countWords(count)} ${noun}${count === 1 ? "" : noun.endsWith("s") ? "es" : "s"}`;
}

/** Fixed decimals, a true minus sign, and an en dash for what is not known. */
export function figure(value: number | null, decimals: number): string {
  if (value === null || !Number.isFinite(value)) return "–";
  const text = Math.abs(value).toFixed(decimals);
  return value < 0 && Number(text) !== 0 ? `−${text}` : text;
}

/** Keeps a figure and its sign on one line. */
const NO_BREAK = "\u00a0";

/** A chance of 0..1 in per cent; never "0 %" or "100 %" for what is only nearly so. */
export function chanceWords(chance: number): string {
  if (!Number.isFinite(chance)) return "–";
  if (chance > 0 && chance < 0.01) return `under 1${NO_BREAK}%`;
  if (chance < 1 && chance > 0.99) return `over 99${NO_BREAK}%`;
  return `${Math.round(chance * 100)}${NO_BREAK}%`;
}

/**
 * What is to be said beside the bearing's limit where a bearing under it is at the limit all the same: the other limit, on how much
 * hotter one end of an axle may be than the other, was the one reached. Empty otherwise.
 */
export function otherLimitWords({ level, riseF, limitF }: { level: string; riseF: number | null; limitF: number }): string {
  return level === "limit" && riseF !== null && riseF < limitF ? "reached is the limit between the two ends of its axle" : "";
}

/** 2026-03-04T05:06:07Z, or an en dash for a time that is none. */
export function utcWords(ms: number): string {
  return Number.isFinite(ms) && Math.abs(ms) <= 8.64e15 ? `${new Date(ms).toISOString().slice(0, 19)}Z` : "–";
}

/** Milliseconds of an RFC 3339 text, NaN for anything else. */
export function msOf(time: string): number {
  return Date.parse(time);
}
