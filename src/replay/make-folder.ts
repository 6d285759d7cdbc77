import { mkdirSync, statSync } from "node:fs";
import { dirname } from "node:path";

/**
 * Makes a folder and those above it. `mkdirSync` with `recursive` asks for ever where a file system says of a folder it will
 * not make that it is not there, as /proc does.
 * @throws NodeJS.ErrnoException
 */
export function makeFolder(folder: string): void {
  if (made(folder)) return;
  const above = dirname(folder);
  if (above !== folder) makeFolder(above);
  mkdirSync(folder);
}

/** Whether it is there now; false when one above it is missing. @throws NodeJS.ErrnoException */
function made(folder: string): boolean {
  try {
    mkdirSync(folder);
    return true;
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    if (code === "EEXIST" && isFolder(folder)) return true;
    if (code === "ENOENT") return false;
    throw error;
  }
}

function isFolder(path: string): boolean {
  return statSync(path, { throwIfNoEntry: false })?.isDirectory() === true;
}
