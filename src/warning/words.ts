/**
 * Numbers as people read them. Always the same digits for the same number, whatever the machine's language, and never a
 * minus zero or a NaN: a reason that cannot be said is left out by its caller.
 */

/** "78 °F", "6.3 °F": whole degrees from ten on, for no scanner knows more. */
export function degrees(valueF: number): string {
  return `${amount(valueF)} °F`;
}

/**
 * A reading, "103 °F" or "169.9 °F": down to the tenth, never up, so that what is under a limit never reads as the limit.
 * Through the grid of 0.01 first, for a float32 of 103.7 is a hair under it.
 */
export function readingWords(riseF: number): string {
  return `${trimmed(Math.floor(rounded(riseF, 2) * 10 + 1e-9) / 10)} °F`;
}

/** "19.2 miles", "1 mile". */
export function milesWords(miles: number): string {
  const text = trimmed(miles);
  return text === "1" ? "1 mile" : `${text} miles`;
}

/** A distance that reads as 0 miles is none: words say so in another way. */
export const HERE_MILES = 0.05;

/** "35 %"; near the ends "under 1 %", "over 99 %": a chance is never certain. */
export function percent(chance: number): string {
  if (chance < 0.01) return "under 1 %";
  if (chance > 0.99) return "over 99 %";
  return `${Math.round(chance * 100)} %`;
}

/** "2 readings", "1 reading". */
export function count(number: number, noun: string): string {
  return `${number} ${noun}${number === 1 ? "" : "s"}`;
}

/** "12 minutes", "1 hour 20 minutes". */
export function minutesWords(minutes: number): string {
  const whole = Math.max(0, Math.round(minutes));
  const hours = Math.floor(whole / 60);
  const rest = whole % 60;
  if (hours === 0) return count(rest, "minute");
  return rest === 0 ? count(hours, "hour") : `${count(hours, "hour")} ${count(rest, "minute")}`;
}

/** "2026-03-04 05:06 UTC". */
export function utcMinute(timeMs: number): string {
  return `${new Date(timeMs).toISOString().slice(0, 16).replace("T", " ")} UTC`;
}

/** First letter large, one full stop at the end, spaces and line breaks tidied: for words that come from elsewhere. */
export function sentence(words: string): string {
  const tidy = words.replace(/\s+/g, " ").trim();
  if (tidy === "") return "";
  const large = tidy[0]!.toUpperCase() + tidy.slice(1);
  return /[.!?]$/.test(large) ? large : `${large}.`;
}

function amount(value: number): string {
  return Math.abs(value) >= 9.95 ? String(Math.round(value)) : trimmed(value);
}

function trimmed(value: number): string {
  const text = value.toFixed(1);
  return text === "-0.0" ? "0" : text.replace(/\.0$/, "");
}

/** To a step of 10^-digits; the same bytes for the same value, and no minus zero. */
export function rounded(value: number, digits: number): number {
  const scale = 10 ** digits;
  return Math.round(value * scale) / scale + 0;
}
