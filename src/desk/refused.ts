import type { Row } from "./board/row.ts";

/** A request that is refused: status for programs, code and words for people; what is behind it, if anything, for our log. */
export class Refused extends Error {
  readonly status: number;
  readonly code: string;
  readonly more: { row?: Row; since?: string[] };

  constructor(status: number, code: string, message: string, more: { row?: Row; since?: string[] } = {}, cause?: unknown) {
    super(message, { cause });
    this.status = status;
    this.code = code;
    this.more = more;
  }
}
