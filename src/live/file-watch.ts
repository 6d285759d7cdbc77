import { readdirSync, statSync } from "node:fs";
import { join } from "node:path";
import type { Clock } from "../flow/clock.ts";

/** How often files that may change while running are looked at. */
export const LOOK_EVERY_MS = 5_000;

export interface FileWatch {
  /** Looks now, instead of when the time comes. */
  look(): Promise<void>;
  close(): Promise<void>;
}

export interface FileWatchParts {
  /** A file, or a folder of them. */
  path: string;
  clock: Clock;
  /**
   * What is there is to be read: at the first look, since it may have changed while everything was started, and whenever it
   * changed, came or went. When it throws, it is called again at the next look.
   */
  changed(): Promise<void>;
  /** `changed` threw. */
  failed(error: unknown): void;
  /** At every look, whether anything changed or not. */
  looked?: () => void | Promise<void>;
}

/** Looks at a file or a folder while running, every five seconds, one look at a time. */
export function startFileWatch({ path, clock, changed, failed, looked }: FileWatchParts): FileWatch {
  let seen: string | null = null;
  let looking: Promise<void> = Promise.resolve();
  let isClosed = false;
  let cancel = () => {};
  const lookOnce = async () => {
    await looked?.();
    const now = signature(path);
    if (now === seen) return;
    await changed();
    seen = now;
  };
  const look = () => {
    const next = looking.then(lookOnce);
    looking = next.catch(() => {});
    return next;
  };
  const tick = () => {
    void look()
      .catch(failed)
      .then(() => {
        if (!isClosed) cancel = clock.after(LOOK_EVERY_MS, tick);
      });
  };
  cancel = clock.after(LOOK_EVERY_MS, tick);
  return {
    look,
    close: async () => {
      isClosed = true;
      cancel();
      await looking;
    },
  };
}

/** Changes when a file does, comes or goes. */
function signature(path: string): string {
  try {
    const files = statSync(path).isDirectory()
      ? readdirSync(path)
          .sort()
          .map((name) => join(path, name))
      : [path];
    return files
      .map((file) => {
        const { mtimeMs, size } = statSync(file);
        return `${file} ${mtimeMs} ${size}`;
      })
      .join("\n");
  } catch {
    return "unreadable";
  }
}
