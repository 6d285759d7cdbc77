/** Files that people write or name on one command line, and mix up. */
const KINDS: readonly { words: string; keys: readonly string[] }[] = [
  { words: "a line file", keys: ["railroad", "sites", "links"] },
  { words: "a rules file", keys: ["limits", "levels", "advice"] },
  { words: "the configuration of a running process", keys: ["railroad", "dataFolder"] },
  { words: "a record of a feed", keys: ["topic", "value"] },
];

/**
 * What a file is, told by keys that all files of its kind have, where `known` are the keys of the kind that was wanted; null
 * where it may well be that kind. One word that it is the wrong file helps more than its every mistake.
 */
export function otherKind(raw: unknown, known: readonly string[]): string | null {
  if (typeof raw !== "object" || raw === null) return null;
  const is = (keys: readonly string[]) => keys.every((key) => Object.hasOwn(raw, key));
  const isMeant = KINDS.some(({ keys }) => is(keys) && keys.every((key) => known.includes(key)));
  return isMeant ? null : (KINDS.find(({ keys }) => is(keys))?.words ?? null);
}

/** Whether a text is that of a feed: JSON Lines, which YAML reads as one value with more behind it. */
export function isFeedText(text: string): boolean {
  return /^\s*\{\s*"topic"\s*:/.test(text);
}
