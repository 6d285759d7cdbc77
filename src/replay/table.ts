/** A column of a plain-text table; figures are set right. */
export interface Column {
  head: string;
  right?: boolean;
}

const GAP = "  ";

/** Rows as a table for a terminal: columns as wide as their longest cell, no trailing blanks. */
export function tableLines(columns: readonly Column[], rows: readonly (readonly string[])[], indent = ""): string[] {
  const widths = columns.map((column, i) => Math.max(column.head.length, ...rows.map((row) => (row[i] ?? "").length)));
  const line = (cells: readonly string[]) =>
    (
      indent +
      columns.map((column, i) => (column.right ? (cells[i] ?? "").padStart(widths[i]!) : (cells[i] ?? "").padEnd(widths[i]!))).join(GAP)
    ).trimEnd();
  return [line(columns.map((column) => column.head)), ...rows.map(line)];
}
