/** Longer words are cut before they are compared: a name is at most 64 characters. */
const LONGEST_COMPARED = 64;
/** A third of a word may differ before a suggestion would be a guess (assumption). */
const SHARE_THAT_MAY_DIFFER = 1 / 3;

/** The known word nearest to what was written, or null when none is near: for "did you mean". */
export function nearestWord(written: string, known: Iterable<string>): string | null {
  let best: string | null = null;
  let bestEdits = Number.POSITIVE_INFINITY;
  for (const word of known) {
    const edits = editDistance(written.toLowerCase(), word.toLowerCase());
    if (edits < bestEdits || (edits === bestEdits && best !== null && word < best)) {
      best = word;
      bestEdits = edits;
    }
  }
  if (best === null) return null;
  const allowed = Math.max(1, Math.floor(Math.max(written.length, best.length) * SHARE_THAT_MAY_DIFFER));
  return bestEdits <= allowed ? best : null;
}

/** Edits (insert, delete, replace, swap of neighbours) between two words: Levenshtein with adjacent swaps. */
export function editDistance(from: string, to: string): number {
  const a = from.slice(0, LONGEST_COMPARED);
  const b = to.slice(0, LONGEST_COMPARED);
  let before: number[] = [];
  let previous = Array.from({ length: b.length + 1 }, (_, j) => j);
  for (let i = 1; i <= a.length; i++) {
    const row = [i];
    for (let j = 1; j <= b.length; j++) {
      const replace = previous[j - 1]! + (a[i - 1] === b[j - 1] ? 0 : 1);
      let edits = Math.min(replace, previous[j]! + 1, row[j - 1]! + 1);
      if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1]) edits = Math.min(edits, before[j - 2]! + 1);
      row.push(edits);
    }
    before = previous;
    previous = row;
  }
  return previous[b.length]!;
}
