/** Why a feed file could not be read to its end. */
export type UnreadableCode =
  | "FEED-101 not-found"
  | "FEED-102 not-permitted"
  | "FEED-103 not-a-file"
  | "FEED-104 cut-short"
  | "FEED-105 corrupt"
  | "FEED-106 read-error";

const ADVICE: Record<UnreadableCode, string> = {
  "FEED-101 not-found": "Check the path; use - for standard input.",
  "FEED-102 not-permitted": "Check who may read the file.",
  "FEED-103 not-a-file": "Name the file itself, not its folder.",
  "FEED-104 cut-short": "What could be read was used. The file is probably still being written or its copy broke off: fetch it again.",
  "FEED-105 corrupt": "What could be read was used. Fetch the file again and compare its checksum with the original.",
  "FEED-106 read-error": "What could be read was used. Check the disk or the pipe that the feed comes from.",
};

/** Thrown after everything that could be read was handed on. `line` is the last whole line, 0 when there was none. */
export class FeedUnreadable extends Error {
  code: UnreadableCode;
  file: string;
  line: number;
  /** Bytes read of the file as it lies on the disk. */
  byte: number;
  advice: string;

  constructor(code: UnreadableCode, file: string, line: number, byte: number, cause: unknown) {
    const advice = ADVICE[code];
    const words = cause instanceof Error ? cause.message : String(cause);
    // Of a file that was never opened there is no place to tell.
    const place = byte === 0 ? "" : `, after line ${line} (byte ${byte})`;
    super(`${code}: ${file === "-" ? "standard input" : file}${place}: ${words}. ${advice}`, { cause });
    this.name = "FeedUnreadable";
    this.code = code;
    this.file = file;
    this.line = line;
    this.byte = byte;
    this.advice = advice;
  }
}

/** The code for what the operating system or a decompressor reports. */
export function unreadableCode(cause: unknown): UnreadableCode {
  const code = (cause as { code?: unknown } | null)?.code;
  if (code === "ENOENT" || code === "ENOTDIR") return "FEED-101 not-found";
  if (code === "EACCES" || code === "EPERM") return "FEED-102 not-permitted";
  if (code === "EISDIR") return "FEED-103 not-a-file";
  if (code === "Z_BUF_ERROR") return "FEED-104 cut-short";
  if (typeof code === "string" && /^(Z_|ZSTD_)/.test(code)) return "FEED-105 corrupt";
  return "FEED-106 read-error";
}
