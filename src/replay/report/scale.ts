/** A straight mapping of values to places on paper. */
export interface Scale {
  from: number;
  to: number;
  at(value: number): number;
}

export function linear(from: number, to: number, start: number, end: number): Scale {
  const perUnit = to === from ? 0 : (end - start) / (to - from);
  return { from, to, at: (value) => start + (value - from) * perUnit };
}

/** Steps people count in: 1, 2 and 5 times a power of ten. */
const STEPS = [1, 2, 5, 10];

/** Round values within from..to, at most about `most` of them. */
export function ticks(from: number, to: number, most: number): number[] {
  const span = to - from;
  if (!(span > 0) || most < 1) return [];
  const power = 10 ** Math.floor(Math.log10(span / most));
  const step = (STEPS.find((times) => span / (times * power) <= most) ?? 10) * power;
  const found: number[] = [];
  // Counted in whole steps: adding a step again and again would gather rounding errors.
  for (let i = Math.ceil(from / step); i * step <= to + step * 1e-9; i++) found.push(i * step);
  return found;
}

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;
const DAY = 24 * HOUR;
const TIME_STEPS = [
  MINUTE,
  2 * MINUTE,
  5 * MINUTE,
  10 * MINUTE,
  15 * MINUTE,
  30 * MINUTE,
  HOUR,
  2 * HOUR,
  3 * HOUR,
  4 * HOUR,
  6 * HOUR,
  12 * HOUR,
  DAY,
  2 * DAY,
  7 * DAY,
  14 * DAY,
  28 * DAY,
  91 * DAY,
  364 * DAY,
];

/** Round times within from..to (ms), counted from local midnight when the zone is `offsetMs` ahead of UTC. */
export function timeTicks(fromMs: number, toMs: number, most: number, offsetMs: number): number[] {
  const span = toMs - fromMs;
  if (!(span > 0)) return [];
  const step = TIME_STEPS.find((ms) => span / ms <= most) ?? (TIME_STEPS.at(-1) as number);
  const found: number[] = [];
  for (let ms = Math.ceil((fromMs + offsetMs) / step) * step - offsetMs; ms <= toMs && found.length <= most * 2; ms += step) found.push(ms);
  return found;
}

/** Width of a text, roughly: for keeping labels apart, not for laying out paragraphs. Mean of usual sans-serif letters. */
const LETTER_WIDTH = 0.56;

export function textWidth(text: string, fontSize: number): number {
  return text.length * fontSize * LETTER_WIDTH;
}

/** Rows for labels that must not overlap, first come first placed; -1 where no row is free. Spans must come by rising start. */
export function labelRows(spans: readonly { start: number; end: number }[], rows: number): number[] {
  const ends = new Array<number>(rows).fill(Number.NEGATIVE_INFINITY);
  return spans.map(({ start, end }) => {
    const row = ends.findIndex((taken) => taken <= start);
    if (row >= 0) ends[row] = end;
    return row;
  });
}
