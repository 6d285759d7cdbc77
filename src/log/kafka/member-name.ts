import { mkdir, readFile, rename, rm, writeFile } from "node:fs/promises";
import { hostname } from "node:os";
import { join } from "node:path";

interface Left {
  memberId: string;
  pid: number;
  host: string;
}

/**
 * The name under which a process is known in a group, left in its data folder. A process that is killed and started again
 * comes back under it, instead of waiting the session time-out for its former self to be taken for dead. Only on the same
 * host and when the process that left it is gone: two under one name would push each other out.
 */
export class MemberName {
  private readonly folder: string | undefined;
  private readonly file: string;

  constructor(folder: string | undefined, group: string) {
    this.folder = folder;
    this.file = join(folder ?? "", `${group}.member.json`);
  }

  /** null: none was left, or it is not ours to use. */
  async former(): Promise<string | null> {
    if (this.folder === undefined) return null;
    try {
      const left = JSON.parse(await readFile(this.file, "utf8")) as Left;
      if (left.host !== hostname() || (left.pid !== process.pid && isAlive(left.pid))) return null;
      return typeof left.memberId === "string" ? left.memberId : null;
    } catch {
      return null;
    }
  }

  async leave(memberId: string): Promise<void> {
    if (this.folder === undefined) return;
    await mkdir(this.folder, { recursive: true });
    const left: Left = { memberId, pid: process.pid, host: hostname() };
    const fresh = `${this.file}.${process.pid}`;
    await writeFile(fresh, JSON.stringify(left));
    await rename(fresh, this.file);
  }

  /** The member left the group in good order: there is nothing to come back as. */
  async forget(): Promise<void> {
    if (this.folder !== undefined) await rm(this.file, { force: true });
  }
}

function isAlive(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === "EPERM";
  }
}
