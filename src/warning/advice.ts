/** Where a text of the rules file is used; it decides which placeholders have a value there. */
export type Situation = "watch" | "set-out" | "stop" | "ended";

const EVERYWHERE = ["place", "train", "site", "rise", "limit", "nextSite", "nextSiteMiles", "nearestSetOut"] as const;
const CROSSING = ["crossing"] as const;
const SET_OUT = ["setOut", "setOutMiles"] as const;

export type Placeholder = (typeof EVERYWHERE)[number] | (typeof CROSSING)[number] | (typeof SET_OUT)[number];

/** Placeholders that a text may hold, by situation: each always has a value there, so no advice ever shows a hole. */
export const PLACEHOLDERS: Record<Situation, readonly Placeholder[]> = {
  watch: EVERYWHERE,
  stop: [...EVERYWHERE, ...CROSSING],
  "set-out": [...EVERYWHERE, ...CROSSING, ...SET_OUT],
  ended: [],
};

const PLACEHOLDER = /\{([^{}]*)\}/g;

/** What is wrong with a text, or null. */
export function templateMistake(template: string, situation: Situation): { says: string; advice: string } | null {
  const known: readonly string[] = PLACEHOLDERS[situation];
  for (const [whole, name] of template.matchAll(PLACEHOLDER)) {
    if (!known.includes(name ?? "")) return { says: `the placeholder ${whole} has no value here`, advice: "Take one of those expected." };
  }
  if (/[{}]/.test(template.replace(PLACEHOLDER, ""))) {
    return { says: "a brace is not closed or not opened", advice: "Write a placeholder as {place}; other braces are not possible." };
  }
  return null;
}

/** A text with its placeholders filled. The template was checked when it was loaded. */
export function fillTemplate(template: string, values: Partial<Record<Placeholder, string>>): string {
  return template.replace(PLACEHOLDER, (_, name: string) => {
    const value = values[name as Placeholder];
    if (value === undefined) throw new Error(`advice: {${name}} has no value; the rules file should have been refused`);
    return value;
  });
}
