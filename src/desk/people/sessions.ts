import { createHash, randomBytes } from "node:crypto";
import { chmodSync, readFileSync, renameSync, writeFileSync } from "node:fs";
import * as z from "zod";
import { type Person, ROLES, type Role } from "./role.ts";

/** A shift and some: after it, or so long without a request, one signs in again. Assumptions. */
const LONGEST_MS = 14 * 3_600_000;
const IDLE_MS = 10 * 3_600_000;
/** Sessions of one desk; the oldest goes. */
const MOST_SESSIONS = 1_000;
const ID_BYTES = 32;

const kept = z.strictObject({
  hash: z.string(),
  name: z.string(),
  role: z.enum(ROLES as [Role, ...Role[]]),
  by: z.enum(["users", "openid", "name"]),
  beganMs: z.number(),
  usedMs: z.number(),
});
type Kept = z.infer<typeof kept>;

/** How a person came in; only of those in the users file the file has the last word. */
export type SignedInBy = Kept["by"];

/**
 * Who is signed in. Only hashes of session ids are held, in memory and in a file, so that a server killed and started again
 * knows its people, and whoever reads the file can be nobody.
 */
export class Sessions {
  private readonly sessions = new Map<string, Kept>();
  private readonly path: string | null;
  private readonly now: () => number;

  constructor(path: string | null, now: () => number = Date.now) {
    this.path = path;
    this.now = now;
    this.read();
  }

  /** Returns the id for the cookie. */
  begin({ name, role }: Person, by: SignedInBy): string {
    const id = randomBytes(ID_BYTES).toString("base64url");
    const nowMs = this.now();
    const hash = hashOf(id);
    this.sessions.set(hash, { hash, name, role, by, beganMs: nowMs, usedMs: nowMs });
    if (this.sessions.size > MOST_SESSIONS) this.sessions.delete(this.sessions.keys().next().value as string);
    this.write();
    return id;
  }

  /** The person of a session as it began; null when there is none (any more). */
  person(id: string): (Person & { by: SignedInBy }) | null {
    const hash = hashOf(id);
    const session = this.sessions.get(hash);
    if (session === undefined) return null;
    const nowMs = this.now();
    if (nowMs - session.beganMs > LONGEST_MS || nowMs - session.usedMs > IDLE_MS) {
      this.sessions.delete(hash);
      this.write();
      return null;
    }
    session.usedMs = nowMs;
    return { name: session.name, role: session.role, by: session.by };
  }

  end(id: string): void {
    if (this.sessions.delete(hashOf(id))) this.write();
  }

  private read(): void {
    if (this.path === null) return;
    try {
      for (const one of z
        .array(kept)
        .max(MOST_SESSIONS)
        .parse(JSON.parse(readFileSync(this.path, "utf8"))))
        this.sessions.set(one.hash, one);
    } catch {
      // None yet, or not ours: everybody signs in again.
    }
  }

  private write(): void {
    if (this.path === null) return;
    const beside = `${this.path}.new`;
    writeFileSync(beside, JSON.stringify([...this.sessions.values()]), { mode: 0o600 });
    chmodSync(beside, 0o600);
    renameSync(beside, this.path);
  }
}

/** What a page must send with every change, beside its cookie: known only to who could read the session. */
export function csrfOf(id: string): string {
  return createHash("sha256").update(`csrf ${id}`).digest("base64url");
}

function hashOf(id: string): string {
  return createHash("sha256").update(`session ${id}`).digest("base64url");
}
