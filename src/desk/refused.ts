import type { Row } from "./board/row.ts";

/** A request that is refused: status for programs, code and words for people. */
export class Refused extends Error {
  readonly status: number;
  readonly code: string;
  readonly more: { row?: Row; since?: string[] };

  constructor(status: number, code: string, message: string, more: { row?: Row; since?: string[] } = {}) {
    super(message);
    this.status = status;
    this.code = code;
    this.more = more;
  }
}
