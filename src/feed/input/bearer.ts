import { hash, timingSafeEqual } from "node:crypto";
import * as z from "zod";
import { inbound } from "../decode.ts";
import type { Topic } from "../record.ts";
import { SITE_TOPICS } from "./intake.ts";

/** Tokens a server takes: one a sender. */
export const MOST_TOKENS = 1_000;
/** A token is random (256 bits are usual), so one round of SHA-256 keeps it as well as any slow hash would. */
const LONGEST_TOKEN_CHARS = 512;

const topics = Object.keys(inbound) as [Topic, ...Topic[]];

/** One sender that may feed. Only the token's hash is written down. */
export const feedToken = z.strictObject({
  name: z
    .string()
    .regex(/^[A-Za-z0-9._-]{1,64}$/)
    .describe("Whose token it is; stands with what is refused."),
  sha256: z
    .string()
    .regex(/^[0-9a-f]{64}$/, "not a SHA-256 in hex, which is 64 digits and letters a to f: printf %s TOKEN | sha256sum")
    .describe("SHA-256 of the token, in hex: printf %s TOKEN | sha256sum"),
  topics: z
    .array(z.enum(topics))
    .min(1)
    .default([...SITE_TOPICS])
    .describe("What it may send. desk-actions only where it is named here."),
});
export type FeedToken = z.infer<typeof feedToken>;

export interface Permitted {
  name: string;
  topics: ReadonlySet<string>;
}

/** Who may feed, by the hash of a bearer token (RFC 6750). */
export class Bearers {
  readonly #tokens: { hash: Buffer; permitted: Permitted }[];

  constructor(tokens: readonly FeedToken[]) {
    this.#tokens = tokens.map(({ name, sha256, topics }) => ({
      hash: Buffer.from(sha256, "hex"),
      permitted: { name, topics: new Set<string>(topics) },
    }));
  }

  /** Whose token an `Authorization` header carries; null for nobody's. Takes as long for a wrong token as for a right one. */
  find(authorization: string | undefined): Permitted | null {
    const token = /^Bearer +([A-Za-z0-9._~+/=-]+) *$/i.exec(authorization ?? "")?.[1];
    if (token === undefined || token.length > LONGEST_TOKEN_CHARS) return null;
    const told = hash("sha256", token, "buffer");
    let found: Permitted | null = null;
    for (const { hash, permitted } of this.#tokens) if (timingSafeEqual(hash, told)) found = permitted;
    return found;
  }
}
