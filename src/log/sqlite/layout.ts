import { mkdirSync } from "node:fs";
import { join } from "node:path";
import { DatabaseSync } from "node:sqlite";
import { LogInUseError, LogUnreadableError } from "./errors.ts";

/** Rises when the tables change; a folder of another one is refused. */
const LAYOUT = 1;

/** Bytes of the file's pages. */
const PAGE_BYTES = 4_096;

/** The log's file in the data folder; beside it lie SQLite's own `-wal` and `-shm`. */
export function logFile(folder: string): string {
  return join(folder, "log.sqlite");
}

/**
 * Opens the log's file for writing, and makes it where there is none. A commit is on the disk before it is answered:
 * `synchronous=FULL` in WAL mode. @throws LogUnreadableError
 */
export function openForWriting(folder: string, mostBytes?: number): DatabaseSync {
  const file = logFile(folder);
  const db = new DatabaseSync(file, { timeout: LOCKED_MS });
  try {
    db.exec(`PRAGMA page_size = ${PAGE_BYTES}; PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL`);
    const { user_version: layout } = db.prepare("PRAGMA user_version").get() as { user_version: number };
    if (layout !== 0 && layout !== LAYOUT) {
      throw new LogUnreadableError(
        `${file} was written by another version of this program (layout ${layout}, this one reads ${LAYOUT}). Use that version, or another data folder.`,
      );
    }
    if (layout === 0) db.exec(TABLES);
    if (mostBytes !== undefined) db.exec(`PRAGMA max_page_count = ${Math.ceil(mostBytes / PAGE_BYTES)}`);
  } catch (error) {
    db.close();
    if (error instanceof LogUnreadableError) throw error;
    throw new LogUnreadableError(
      `${file} cannot be read as a log: ${(error as Error).message}. Restore it from a copy, or use another data folder.`,
    );
  }
  return db;
}

/** Opens the log's file to read beside whoever writes. @throws LogUnreadableError where there is none */
export function openForReading(folder: string): DatabaseSync {
  try {
    return new DatabaseSync(logFile(folder), { readOnly: true, timeout: LOCKED_MS });
  } catch (error) {
    throw new LogUnreadableError(`${logFile(folder)} cannot be opened: ${(error as Error).message}`);
  }
}

/** Whoever opens the file first after a kill brings it up to date, and locks it for so long: a reader too. Waited for. */
const LOCKED_MS = 10_000;

/** SQLITE_BUSY and SQLITE_LOCKED (sqlite.org/rescode.html): somebody else has the lock. */
const HELD: readonly unknown[] = [5, 6];

/**
 * Holds the data folder for this process, by a lock of the operating system: it goes with the process however that ends.
 * @throws LogInUseError, LogUnreadableError
 */
export function holdFolder(folder: string): () => void {
  mkdirSync(folder, { recursive: true });
  const file = join(folder, "owner.sqlite");
  const owner = new DatabaseSync(file);
  try {
    owner.exec("PRAGMA locking_mode = EXCLUSIVE; BEGIN EXCLUSIVE");
  } catch (error) {
    owner.close();
    const { message, errcode } = error as Error & { errcode?: number };
    if (!HELD.includes(errcode))
      throw new LogUnreadableError(`${file} cannot be locked: ${message}. It holds nothing of the log: take it away and start again.`);
    throw new LogInUseError(`${folder} is open in another process. Stop that one first, or give this one a data folder of its own.`);
  }
  return () => owner.close();
}

const TABLES = `
  BEGIN;
  CREATE TABLE partition (
    topic TEXT NOT NULL,
    partition INTEGER NOT NULL,
    first INTEGER NOT NULL,
    next INTEGER NOT NULL,
    arrived INTEGER NOT NULL,
    PRIMARY KEY (topic, partition)
  ) WITHOUT ROWID;
  CREATE TABLE record (
    topic TEXT NOT NULL,
    partition INTEGER NOT NULL,
    offset INTEGER NOT NULL,
    key TEXT NOT NULL,
    value BLOB NOT NULL,
    headers TEXT NOT NULL,
    arrived INTEGER NOT NULL,
    PRIMARY KEY (topic, partition, offset)
  ) WITHOUT ROWID;
  CREATE TABLE standing (
    stage TEXT NOT NULL,
    topic TEXT NOT NULL,
    partition INTEGER NOT NULL,
    epoch INTEGER NOT NULL,
    position INTEGER NOT NULL,
    refold INTEGER NOT NULL,
    PRIMARY KEY (stage, topic, partition)
  ) WITHOUT ROWID;
  PRAGMA user_version = ${LAYOUT};
  COMMIT;
`;
