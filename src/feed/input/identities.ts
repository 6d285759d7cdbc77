import { hash } from "node:crypto";

/**
 * Which records were taken lately, so that one sent again is not written again. A record's identity is what it says: its
 * topic and its bytes. The same reading worded differently is left to the folds, which drop it all the same.
 *
 * Two generations of at most `most` identities: any of the last `most` records is known, and never more than twice as
 * many. It lives in memory: after a restart a repeat is written once more, and the folds drop it.
 */
export class Identities {
  readonly #most: number;
  #young = new Map<string, Promise<void> | null>();
  #old = new Map<string, Promise<void> | null>();

  constructor(most: number) {
    this.#most = most;
  }

  /** undefined: not known. null: durable. A promise: on its way, durable once it resolves. */
  find(identity: string): Promise<void> | null | undefined {
    const young = this.#young.get(identity);
    return young === undefined ? this.#old.get(identity) : young;
  }

  /** A record is on its way into the log. */
  begin(identity: string, durable: Promise<void>): void {
    if (this.#young.size >= this.#most) {
      this.#old = this.#young;
      this.#young = new Map();
    }
    this.#young.set(identity, durable);
  }

  /** It is durable. */
  settle(identity: string): void {
    if (this.#young.has(identity)) this.#young.set(identity, null);
    else if (this.#old.has(identity)) this.#old.set(identity, null);
  }

  /** It did not get into the log: when it comes again it is new. */
  forget(identity: string): void {
    this.#young.delete(identity);
    this.#old.delete(identity);
  }
}

/** Identity of a record of a topic. */
export function identityOf(topic: string, value: Uint8Array): string {
  return `${topic}/${digestOf(value)}`;
}

/** SHA-256, so that nobody can make two records that pass for one. */
export function digestOf(value: Uint8Array): string {
  return hash("sha256", value, "base64url");
}
