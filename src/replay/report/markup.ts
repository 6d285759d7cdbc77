import { printable } from "../words.ts";

/** Text that is HTML already. Made only by `markup`, so everything else that meets a page is escaped. */
export class Markup {
  readonly text: string;

  constructor(text: string) {
    this.text = text;
  }
}

export type Value = Markup | string | number | null | false | readonly Value[];

const ENTITIES: Record<string, string> = { "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "'": "&#39;" };

/** Escapes for element content and for quoted attributes alike; control and reordering characters become visible. */
export function escaped(text: string): string {
  return printable(text).replace(/[&<>"']/g, (character) => ENTITIES[character] as string);
}

/**
 * Template tag for HTML and SVG: whatever is put in is escaped unless it is Markup. Lists are joined, null and false vanish.
 * Attributes in the template must be quoted.
 */
export function markup(strings: TemplateStringsArray, ...values: Value[]): Markup {
  let text = strings[0] as string;
  for (let i = 0; i < values.length; i++) text += rendered(values[i] as Value) + strings[i + 1];
  return new Markup(text);
}

function rendered(value: Value): string {
  if (value === null || value === false) return "";
  if (value instanceof Markup) return value.text;
  if (typeof value === "number") return Number.isFinite(value) ? String(value) : "";
  if (typeof value === "string") return escaped(value);
  let text = "";
  for (const one of value) text += rendered(one);
  return text;
}

/** A coordinate on a grid of a tenth of a unit: short and the same on every machine. */
export function px(value: number): string {
  const rounded = Math.round(value * 10) / 10;
  return String(rounded === 0 ? 0 : rounded);
}

/** A path or points list from pairs of coordinates. */
export function pointsOf(pairs: readonly (readonly [number, number])[]): string {
  return pairs.map(([x, y]) => `${px(x)},${px(y)}`).join(" ");
}
