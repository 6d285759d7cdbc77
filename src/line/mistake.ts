/** A mistake in a file that people write (line file, rules file): what, where, what was expected and what to do. */
export interface Mistake {
  /** Stable: programs and documents refer to it. */
  code: string;
  file: string;
  /** Both from 1; 1, 1 for the file as a whole. */
  line: number;
  column: number;
  /** Path inside the file, e.g. `links[3].setOuts[0].miles`; empty for the file as a whole. */
  path: string;
  says: string;
  expected: string;
  advice: string;
}

/** Longer source lines are cut around the column, so that a mistake stays readable on a terminal. */
const EXCERPT_COLUMNS = 100;
const EXCERPT_BEFORE = 40;

/** Order of reading: line, column, then code, so that the same file always prints the same. */
export function compareMistakes(a: Mistake, b: Mistake): number {
  return a.line - b.line || a.column - b.column || compareText(a.code, b.code) || compareText(a.path, b.path);
}

/**
 * All mistakes for people, one block each: `file:line:column code at path`, what is wrong, what was expected, what to do.
 * With the text of the file, the line itself is shown with a mark under the column.
 */
export function formatMistakes(mistakes: readonly Mistake[], text?: string): string {
  const sourceLines = text === undefined ? null : text.split(/\r\n|\r|\n/);
  return mistakes.map((mistake) => formatMistake(mistake, sourceLines)).join("\n");
}

/** `links[3].setOuts[0].miles` from its steps. */
export function pathText(path: readonly PropertyKey[]): string {
  let text = "";
  for (const step of path) text += typeof step === "number" ? `[${step}]` : `${text === "" ? "" : "."}${String(step)}`;
  return text;
}

function formatMistake(mistake: Mistake, sourceLines: string[] | null): string {
  const where = mistake.path === "" ? "" : ` at ${printable(mistake.path)}`;
  const lines = [`${mistake.file}:${mistake.line}:${mistake.column} ${mistake.code}${where}: ${printable(mistake.says)}`];
  const source = sourceLines?.[mistake.line - 1];
  if (source !== undefined && source.trim() !== "") lines.push(...excerpt(source, mistake.column));
  if (mistake.expected !== "") lines.push(`    expected: ${mistake.expected}`);
  if (mistake.advice !== "") lines.push(`    to do: ${mistake.advice}`);
  return lines.join("\n") + "\n";
}

function excerpt(source: string, column: number): string[] {
  const start = source.length > EXCERPT_COLUMNS ? Math.max(0, column - 1 - EXCERPT_BEFORE) : 0;
  const shown = printable(source.slice(start, start + EXCERPT_COLUMNS));
  return [`    | ${shown}`, `    | ${" ".repeat(Math.max(0, column - 1 - start))}^`];
}

/** Tabs and control characters would shift the mark or reach the terminal. */
function printable(text: string): string {
  // biome-ignore lint/suspicious/noControlCharactersInRegex: control characters are what is taken out
  return text.replace(/[\u0000-\u001f\u007f-\u009f]/g, " ");
}

function compareText(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}
