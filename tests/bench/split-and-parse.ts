import { closeSync, openSync, readSync } from "node:fs";

/** The least that any reader of JSON Lines does: the yardstick. Returns how many records it saw. */
export function splitAndParse(path: string): number {
  const file = openSync(path, "r");
  const buffer = Buffer.alloc(256 * 1024);
  let records = 0;
  let rest = "";
  for (;;) {
    const read = readSync(file, buffer);
    if (read === 0) break;
    const text = rest + buffer.toString("latin1", 0, read);
    let from = 0;
    for (let end = text.indexOf("\n"); end >= 0; end = text.indexOf("\n", from)) {
      if (typeof JSON.parse(text.slice(from, end)) === "object") records++;
      from = end + 1;
    }
    rest = text.slice(from);
  }
  closeSync(file);
  return records;
}
