import { whenBothWords } from "./clock.ts";

/** Times as records hold them: RFC 3339 in UTC, with or without fractions. */
const INSTANT = /\b\d{4}-\d\d-\d\dT\d\d:\d\d(?::\d\d(?:\.\d+)?)?Z/g;
/** Ids of sites begin and end with a letter or digit; what stands beside one in a longer name belongs to it. */
const NAME = /[a-z0-9]+(?:-[a-z0-9]+)*/g;

export interface ReadableOptions {
  zone: string;
  nowMs: number;
  /** Names of sites by their ids. */
  names: ReadonlyMap<string, string>;
}

/** Prose made from records, for people: a site by its name instead of its id, a time as the railroad's clocks show it. */
export function readable(prose: string, { zone, nowMs, names }: ReadableOptions): string {
  const timed = prose.replace(INSTANT, (instant) => {
    const ms = Date.parse(instant);
    return Number.isFinite(ms) ? whenBothWords(ms, nowMs, zone) : instant;
  });
  return timed.replace(NAME, (name) => (isPlainlyAnId(name) ? (names.get(name) ?? name) : name));
}

/** A site may be called "12" or "yard": such an id cannot be told from a figure or a word of the advice, and stays as it is. */
function isPlainlyAnId(name: string): boolean {
  return name.includes("-") && /[a-z]/.test(name) && /\d/.test(name);
}
