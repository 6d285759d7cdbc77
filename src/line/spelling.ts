/** Longer words are cut before they are compared: a name is at most 64 characters. */
const LONGEST_COMPARED = 64;
/** A third of a word may differ before a suggestion would be a guess (assumption). */
const SHARE_THAT_MAY_DIFFER = 1 / 3;

/** The known word nearest to what was written (the first of several), or null when none is near: for "did you mean". */
export function nearestWord(written: string, known: Iterable<string>): string | null {
  const meant = written.toLowerCase();
  let best: string | null = null;
  let bestEdits = Number.POSITIVE_INFINITY;
  for (const word of known) {
    const edits = editDistance(meant, word.toLowerCase(), bestEdits - 1);
    if (edits >= bestEdits) continue;
    best = word;
    bestEdits = edits;
  }
  if (best === null) return null;
  const allowed = Math.max(1, Math.floor(Math.max(written.length, best.length) * SHARE_THAT_MAY_DIFFER));
  return bestEdits <= allowed ? best : null;
}

/**
 * Edits (insert, delete, replace, swap of neighbours) between two words: Levenshtein with adjacent swaps. Infinity as soon
 * as it is sure to be more than `atMost`: a file with thousands of wrong names is still checked in seconds.
 */
export function editDistance(from: string, to: string, atMost = Number.POSITIVE_INFINITY): number {
  const a = from.slice(0, LONGEST_COMPARED);
  const b = to.slice(0, LONGEST_COMPARED);
  if (Math.abs(a.length - b.length) > atMost) return Number.POSITIVE_INFINITY;
  let before: number[] = [];
  let previous = Array.from({ length: b.length + 1 }, (_, j) => j);
  for (let i = 1; i <= a.length; i++) {
    const row = [i];
    let least = i;
    for (let j = 1; j <= b.length; j++) {
      const replace = previous[j - 1]! + (a[i - 1] === b[j - 1] ? 0 : 1);
      let edits = Math.min(replace, previous[j]! + 1, row[j - 1]! + 1);
      if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1]) edits = Math.min(edits, before[j - 2]! + 1);
      row.push(edits);
      least = Math.min(least, edits);
    }
    // A swap reaches back over one row, and costs one more than what stands there.
    if (least > atMost + 1) return Number.POSITIVE_INFINITY;
    before = previous;
    previous = row;
  }
  return previous[b.length]!;
}
