/** Columns of a terminal that a line of text takes at most. */
const WIDTH = 110;

/** Lines of a text for a terminal, broken at spaces so that they stay within its width where they can; indented by so many columns. */
export function wrapped(text: string, first: number, rest: number): string[] {
  const lines: string[] = [];
  let line = " ".repeat(first);
  let empty = true;
  for (const word of text.split(" ")) {
    if (!empty && line.length + 1 + word.length > WIDTH) {
      lines.push(line);
      line = " ".repeat(rest);
      empty = true;
    }
    line += empty ? word : ` ${word}`;
    empty = false;
  }
  lines.push(line);
  return lines;
}
