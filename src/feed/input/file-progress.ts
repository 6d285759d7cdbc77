import type { Stats } from "node:fs";
import { readFileSync, renameSync, rmSync, writeFileSync } from "node:fs";
import * as z from "zod";

/**
 * How far a file of the watched folder is durable, beside it as `.<name>.progress`. Written after the records are in the
 * log: what a crash between the two repeats, the folds drop.
 */

const progress = z.object({
  /** Of the file it speaks of: another file under the same name begins anew. */
  bytes: z.int(),
  modifiedMs: z.number(),
  inode: z.number(),
  lines: z.int().gte(0),
});

/** Lines durable of this very file; 0 when nothing is known. */
export function linesDone(path: string, status: Stats): number {
  try {
    const known = progress.parse(JSON.parse(readFileSync(path, "utf8")));
    const same = known.bytes === status.size && known.modifiedMs === status.mtimeMs && known.inode === status.ino;
    return same ? known.lines : 0;
  } catch {
    // None, or cut short by a crash: reading again from the first line doubles nothing.
    return 0;
  }
}

export function keepLinesDone(path: string, status: Stats, lines: number): void {
  writeFileSync(`${path}.part`, JSON.stringify({ bytes: status.size, modifiedMs: status.mtimeMs, inode: status.ino, lines }));
  renameSync(`${path}.part`, path);
}

export function forgetLinesDone(path: string): void {
  rmSync(path, { force: true });
}
