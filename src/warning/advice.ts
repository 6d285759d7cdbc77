import { sentence } from "./words.ts";

/** Where a text of the rules file is used; it decides which placeholders may stand in it. */
export type Situation = "watch" | "set-out" | "stop" | "held-set-out" | "held-stop" | "gone" | "ended";

const EVERYWHERE = ["place", "train", "site", "rise", "limit", "nextSite", "nextSiteMiles", "nearestSetOut"] as const;
const CROSSING = ["crossing"] as const;
const SET_OUT = ["setOut", "setOutMiles"] as const;
const RAISED = ["raisedSite", "raisedRise"] as const;
const GONE = ["vehicle", "place", "train", "site"] as const;

export type Placeholder =
  | (typeof EVERYWHERE)[number]
  | (typeof CROSSING)[number]
  | (typeof SET_OUT)[number]
  | (typeof RAISED)[number]
  | (typeof GONE)[number];

/** Placeholders that a text may hold, by situation. */
export const PLACEHOLDERS: Record<Situation, readonly Placeholder[]> = {
  watch: EVERYWHERE,
  stop: [...EVERYWHERE, ...CROSSING],
  "set-out": [...EVERYWHERE, ...CROSSING, ...SET_OUT],
  "held-stop": [...EVERYWHERE, ...CROSSING, ...RAISED],
  "held-set-out": [...EVERYWHERE, ...CROSSING, ...RAISED, ...SET_OUT],
  gone: [...GONE, ...RAISED],
  ended: [],
};

/** What is not always known: a sentence that holds one of these is left out when it is not. */
const NOT_ALWAYS: ReadonlySet<string> = new Set(["rise", "nextSite", "nextSiteMiles", "crossing", "raisedRise"]);

/** Values of a text's placeholders; null: not known now. */
export type PlaceholderValues = Partial<Record<Placeholder, string | null>>;

const PLACEHOLDER = /\{([^{}]*)\}/g;
const SENTENCE_END = /(?<=[.!?])\s+/;

export interface TemplateMistake {
  code: "unknown-placeholder" | "first-sentence-unsure";
  says: string;
  expected: string;
  advice: string;
}

/** What is wrong with a text, or null. */
export function templateMistake(template: string, situation: Situation): TemplateMistake | null {
  const known: readonly string[] = PLACEHOLDERS[situation];
  const list = known.map((name) => `{${name}}`).join(" ");
  const expected = known.length === 0 ? "a text without placeholders" : `placeholders only of ${list}`;
  for (const [whole, name] of template.matchAll(PLACEHOLDER)) {
    if (known.includes(name ?? "")) continue;
    const says = `the placeholder ${whole} has no value here`;
    return { code: "unknown-placeholder", says, expected, advice: "Take one of those expected." };
  }
  if (/[{}]/.test(template.replace(PLACEHOLDER, ""))) {
    const advice = "Write a placeholder as {place}; other braces are not possible.";
    return { code: "unknown-placeholder", says: "a brace is not closed or not opened", expected, advice };
  }
  for (const [whole, name] of template.split(SENTENCE_END)[0]!.matchAll(PLACEHOLDER)) {
    if (!NOT_ALWAYS.has(name ?? "")) continue;
    return {
      code: "first-sentence-unsure",
      says: `the first sentence holds ${whole}, which is not always known`,
      expected: "a first sentence that always holds",
      advice: "Say what to do first and the number in a sentence after it: that one is left out when the number is not known.",
    };
  }
  return null;
}

/**
 * A text with its placeholders filled, without the sentences that hold one that is not known now. The template was
 * checked when it was loaded, so the first sentence always stays.
 */
export function fillTemplate(template: string, values: PlaceholderValues): string {
  const valueOfName = (name: string): string | null => {
    const value = values[name as Placeholder];
    if (value === undefined) throw new Error(`advice: {${name}} has no value; the rules file should have been refused`);
    return value;
  };
  return template
    .split(SENTENCE_END)
    .filter((words) => [...words.matchAll(PLACEHOLDER)].every(([, name]) => valueOfName(name!) !== null))
    .map((words) => sentence(words.replace(PLACEHOLDER, (_, name: string) => valueOfName(name)!)))
    .join(" ");
}
