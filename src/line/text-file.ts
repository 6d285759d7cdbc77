import { closeSync, fstatSync, openSync, readSync } from "node:fs";
import type { Mistake } from "./mistake.ts";

/** Largest line or rules file: 2,000 sites with all their links are about half of it. */
export const MAX_FILE_BYTES = 1024 * 1024;

/**
 * Reads a file that people write, as UTF-8, at most MAX_FILE_BYTES. A file that cannot be read, is too large or is not
 * UTF-8 gives one mistake (`file-unreadable`, `file-too-large`, `file-not-text`) and a null text; nothing is thrown.
 */
export function readTextFile(path: string): { text: string | null; mistakes: Mistake[] } {
  let bytes: Uint8Array;
  try {
    bytes = readBounded(path);
  } catch (error) {
    const reason = error instanceof Error ? error.message : String(error);
    return refuse(path, "file-unreadable", `cannot be read: ${reason}`, "a readable file", "Check the path and who may read it.");
  }
  if (bytes.length > MAX_FILE_BYTES) return refuse(path, "file-too-large", ...TOO_LARGE);
  try {
    return { text: new TextDecoder("utf-8", { fatal: true }).decode(bytes), mistakes: [] };
  } catch {
    return refuse(
      path,
      "file-not-text",
      "is not UTF-8 text",
      "a YAML file in UTF-8",
      "Check that it is the file that was meant; if so, save it as UTF-8.",
    );
  }
}

/** What is said of a file over the limit, wherever that is found out. */
export const TOO_LARGE: readonly [says: string, expected: string, advice: string] = [
  `is larger than ${MAX_FILE_BYTES / 1024} KiB`,
  `at most ${MAX_FILE_BYTES / 1024} KiB`,
  "Check that it is the file that was meant: a feed is none of these. If it is, split the railroad into several files, one a district.",
];

/** Reads one byte more than the limit at most, whatever the size of the file (or of a device) is said to be. */
function readBounded(path: string): Uint8Array {
  const descriptor = openSync(path, "r");
  try {
    if (fstatSync(descriptor).isDirectory()) throw new Error("it is a folder");
    const buffer = new Uint8Array(MAX_FILE_BYTES + 1);
    let length = 0;
    while (length < buffer.length) {
      const read = readSync(descriptor, buffer, length, buffer.length - length, null);
      if (read === 0) break;
      length += read;
    }
    return buffer.subarray(0, length);
  } finally {
    closeSync(descriptor);
  }
}

function refuse(file: string, code: string, says: string, expected: string, advice: string): { text: null; mistakes: Mistake[] } {
  return { text: null, mistakes: [{ code, file, line: 1, column: 1, path: "", says, expected, advice }] };
}
