import { closeSync, openSync, renameSync, rmSync, writeFileSync, writeSync } from "node:fs";
import { join } from "node:path";
import { makeFolder } from "./make-folder.ts";

/** Record files of a replay, one JSON object a line. */
const RECORD_FILES = {
  passes: "passes.jsonl",
  warnings: "warnings.jsonl",
  siteConditions: "site-conditions.jsonl",
  rejected: "rejected.jsonl",
} as const;
export type RecordFile = keyof typeof RECORD_FILES;

const DOCUMENTS = { summary: "summary.json", report: "report.html" } as const;
export type Document = keyof typeof DOCUMENTS;

/** Characters held back before a write; keeps the number of system calls small and memory bounded. */
const BUFFER_CHARACTERS = 256 * 1024;

/** Codes: OUT-001 the folder cannot be made, OUT-002 a file cannot be opened, OUT-003 a write failed. */
export class OutputUnwritable extends Error {
  readonly code: string;

  constructor(code: string, path: string, cause: unknown, advice: string) {
    super(`${code} ${path}: ${cause instanceof Error ? cause.message : String(cause)}. ${advice}`, { cause });
    this.name = "OutputUnwritable";
    this.code = code;
  }
}

interface Open {
  path: string;
  file: number;
  pending: string;
  records: number;
}

/**
 * The files of one replay in one folder. It replaces files of its own six names and touches nothing else there. Each is
 * written beside its place and moved there at the end, so a file under its name is always whole. Writes are synchronous:
 * the reader waits for the disk, and nothing piles up.
 */
export class Outputs {
  readonly #folder: string;
  readonly #open = new Map<RecordFile, Open>();

  /** @throws OutputUnwritable */
  constructor(folder: string) {
    this.#folder = folder;
    try {
      makeFolder(folder);
    } catch (error) {
      throw new OutputUnwritable("OUT-001", folder, error, "Name a folder that can be made, with --out.");
    }
    for (const [name, fileName] of Object.entries(RECORD_FILES) as [RecordFile, string][]) {
      const path = join(folder, fileName);
      try {
        this.#open.set(name, { path, file: openSync(part(path), "w"), pending: "", records: 0 });
      } catch (error) {
        this.abandon();
        throw new OutputUnwritable("OUT-002", path, error, "Make the folder writable or name another with --out.");
      }
    }
  }

  /** Appends one record. @throws OutputUnwritable */
  put(name: RecordFile, record: object): void {
    this.putText(name, JSON.stringify(record));
  }

  /** Appends a record that is JSON on one line already. @throws OutputUnwritable */
  putText(name: RecordFile, json: string): void {
    const open = this.#open.get(name);
    if (open === undefined) throw new Error(`${RECORD_FILES[name]} is closed: nothing can be put after finish or abandon`);
    open.pending += json;
    open.pending += "\n";
    open.records++;
    if (open.pending.length >= BUFFER_CHARACTERS) flush(open);
  }

  /** Writes a whole document. Returns its path. @throws OutputUnwritable */
  document(name: Document, text: string): string {
    const path = join(this.#folder, DOCUMENTS[name]);
    try {
      writeFileSync(part(path), text);
      renameSync(part(path), path);
    } catch (error) {
      rmSync(part(path), { force: true });
      throw new OutputUnwritable("OUT-003", path, error, "Is the disk full?");
    }
    return path;
  }

  /** Writes out what is held back and gives each file its name. Returns records by file. @throws OutputUnwritable */
  finish(): Record<RecordFile, number> {
    const counts: Record<RecordFile, number> = { passes: 0, warnings: 0, siteConditions: 0, rejected: 0 };
    for (const [name, open] of this.#open) {
      flush(open);
      closeSync(open.file);
      this.#open.delete(name);
      try {
        renameSync(part(open.path), open.path);
      } catch (error) {
        throw new OutputUnwritable("OUT-003", open.path, error, "Is the name taken by a folder?");
      }
      counts[name] = open.records;
    }
    return counts;
  }

  /** After an error: closes and removes what was begun; files of an earlier replay stay as they were. */
  abandon(): void {
    for (const [name, open] of this.#open) {
      closeSync(open.file);
      rmSync(part(open.path), { force: true });
      this.#open.delete(name);
    }
  }
}

function part(path: string): string {
  return `${path}.part`;
}

function flush(open: Open): void {
  const bytes = Buffer.from(open.pending);
  open.pending = "";
  try {
    for (let at = 0; at < bytes.length; ) at += writeSync(open.file, bytes, at);
  } catch (error) {
    throw new OutputUnwritable("OUT-003", open.path, error, "Is the disk full?");
  }
}
