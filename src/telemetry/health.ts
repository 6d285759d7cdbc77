/** What one part of the process (a task, an input, the desk) says of itself. */
export interface PartHealth {
  ready(): void;
  /** Not able to do its work yet, or for a while; the process is left alone. `why` is shown to people. */
  unready(why: string): void;
  /** Cannot go on by itself: the supervisor should start the process again. */
  broken(why: string): void;
  /** The part is gone (a partition went to another process). */
  remove(): void;
}

export interface HealthReport {
  ok: boolean;
  /** Parts that are not as they should be, with the reason. */
  parts: { part: string; why: string }[];
}

/** Parts the report names at most; a process has a few dozen. */
const MOST_PARTS = 1_000;

type PartState = { state: "ready" } | { state: "unready" | "broken"; why: string };

/**
 * Whether the process is alive and whether it is ready, as the sum of what its parts say. A process without parts is not
 * ready: nothing has started yet.
 */
export class Health {
  readonly #parts = new Map<string, PartState>();
  readonly #watched = new Map<string, () => string | null>();

  /** A part enters as not ready. */
  part(name: string): PartHealth {
    if (this.#parts.size >= MOST_PARTS) throw new RangeError(`more than ${MOST_PARTS} parts of one process`);
    this.#parts.set(name, { state: "unready", why: "starting" });
    return {
      ready: () => this.#parts.set(name, { state: "ready" }),
      unready: (why) => this.#parts.set(name, { state: "unready", why }),
      broken: (why) => this.#parts.set(name, { state: "broken", why }),
      remove: () => this.#parts.delete(name),
    };
  }

  /** A part that answers when it is asked: why it cannot do its work right now, or null. Its being broken is said otherwise. */
  watch(name: string, look: () => string | null): void {
    this.#watched.set(name, look);
  }

  live(): HealthReport {
    return this.#report((part) => part.state === "broken");
  }

  ready(): HealthReport {
    if (this.#parts.size === 0) return { ok: false, parts: [{ part: "process", why: "starting" }] };
    const { parts } = this.#report((part) => part.state !== "ready");
    for (const [part, look] of this.#watched) {
      const why = look();
      if (why !== null) parts.push({ part, why });
    }
    return { ok: parts.length === 0, parts };
  }

  #report(wrong: (part: PartState) => boolean): HealthReport {
    const parts: HealthReport["parts"] = [];
    for (const [part, state] of this.#parts) if (wrong(state) && state.state !== "ready") parts.push({ part, why: state.why });
    return { ok: parts.length === 0, parts };
  }
}
