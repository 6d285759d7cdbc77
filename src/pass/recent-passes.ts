/** What is remembered of a pass once it is closed, to tell a repeat from a late record and both from a new pass. */
export interface RecentPass {
  pass: string;
  begunMs: number;
  /** Rows it closed with. */
  rows: number;
  /** 1 for each row that arrived; null when all did. */
  seen: Uint8Array | null;
  hadBegin: boolean;
  hadEnd: boolean;
  /** Event time when it closed, or was begun to be told again. */
  closedMs: number;
}

/** Passes remembered per track: about two days of a busy line (assumption). The oldest is forgotten. */
export const RECENT_PASSES = 128;

/** Stands where a pass was forgotten: no pass has this number. */
const FORGOTTEN: RecentPass = {
  pass: "",
  begunMs: Number.NaN,
  rows: 0,
  seen: null,
  hadBegin: false,
  hadEnd: false,
  closedMs: Number.NEGATIVE_INFINITY,
};

/** The last passes of one track, newest first found. */
export class RecentPasses {
  readonly #ring: RecentPass[] = [];
  #next = 0;

  remember(pass: RecentPass): void {
    this.#ring[this.#next] = pass;
    this.#next = (this.#next + 1) % RECENT_PASSES;
  }

  /** Forgets what closed before a time. */
  forget(beforeMs: number): void {
    for (let at = 0; at < this.#ring.length; at++) if (this.#ring[at]!.closedMs < beforeMs) this.#ring[at] = FORGOTTEN;
  }

  /** The newest with this number, null when none is remembered. */
  find(pass: string): RecentPass | null {
    for (let back = 1; back <= this.#ring.length; back++) {
      const recent = this.#ring[(this.#next - back + RECENT_PASSES) % RECENT_PASSES]!;
      if (recent !== undefined && recent.pass === pass) return recent;
    }
    return null;
  }
}
