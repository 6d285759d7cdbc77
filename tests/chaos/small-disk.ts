import { spawnSync } from "node:child_process";
import { mkdirSync } from "node:fs";

/** A file system of its own for one folder, so small that it fills up; in memory, by the system's own `mount`, which root may do. */
export class SmallDisk {
  readonly folder: string;

  private constructor(folder: string) {
    this.folder = folder;
  }

  /** Null where this user may not mount. */
  static mount(folder: string, megabytes: number): SmallDisk | null {
    mkdirSync(folder, { recursive: true });
    return run("mount", "-t", "tmpfs", "-o", `size=${megabytes}m`, "tmpfs", folder) ? new SmallDisk(folder) : null;
  }

  grow(megabytes: number): void {
    if (!run("mount", "-o", `remount,size=${megabytes}m`, this.folder)) throw new Error(`${this.folder} could not be made larger`);
  }

  unmount(): void {
    run("umount", "-l", this.folder);
  }
}

function run(command: string, ...args: string[]): boolean {
  return spawnSync(command, args).status === 0;
}
