import { readFileSync } from "node:fs";
import {
  allowInsecureRequests,
  authorizationCodeGrant,
  buildAuthorizationUrl,
  type Configuration,
  calculatePKCECodeChallenge,
  discovery,
  randomNonce,
  randomPKCECodeVerifier,
  randomState,
} from "openid-client";
import { person } from "../../feed/fields.ts";
import { CommandError, EXIT } from "../../replay/exit-status.ts";
import type { DeskConfig } from "../desk-config.ts";
import { Refused } from "../refused.ts";
import { isLoopback } from "../safe-opening.ts";
import { type Person, ROLES, type Role } from "./role.ts";

type OpenIdConfig = NonNullable<DeskConfig["openid"]>;

/** Sign-ins under way, and how long a person may take at the provider. */
const MOST_UNDER_WAY = 1_000;
const UNDER_WAY_MS = 10 * 60_000;

/** Where the provider sends people back to. */
export const RETURN_PATH = "/api/openid/return";

interface UnderWay {
  nonce: string;
  verifier: string;
  sinceMs: number;
}

/**
 * Sign-in by OpenID Connect: the code flow with PKCE, state and nonce, by a library that is certified for it. The desk takes a
 * name and a role from the provider's claims, and nothing else; who has none of our roles does not get in.
 */
export class OpenId {
  private readonly config: OpenIdConfig;
  private readonly secret: string | undefined;
  private readonly underWay = new Map<string, UnderWay>();
  private provider: Promise<Configuration> | null = null;

  /** @throws CommandError when the secret cannot be read */
  constructor(config: OpenIdConfig) {
    this.config = config;
    this.secret = config.clientSecret === undefined ? undefined : secretOf(config.clientSecret);
  }

  /** Where to send a person, and the state that the browser must bring back. @throws Refused when the provider does not answer */
  async begin(nowMs: number): Promise<{ url: URL; state: string }> {
    const provider = await this.found();
    const state = randomState();
    const verifier = randomPKCECodeVerifier();
    const nonce = randomNonce();
    this.underWay.set(state, { nonce, verifier, sinceMs: nowMs });
    if (this.underWay.size > MOST_UNDER_WAY) this.underWay.delete(this.underWay.keys().next().value as string);
    const url = buildAuthorizationUrl(provider, {
      redirect_uri: this.returnUrl(),
      scope: "openid profile",
      code_challenge: await calculatePKCECodeChallenge(verifier),
      code_challenge_method: "S256",
      state,
      nonce,
    });
    return { url, state };
  }

  /** The person who came back from the provider. `state`: what this browser was given. @throws Refused */
  async end(query: string, state: string, nowMs: number): Promise<Person> {
    const begun = this.underWay.get(state);
    this.underWay.delete(state);
    if (begun === undefined || nowMs - begun.sinceMs > UNDER_WAY_MS)
      throw new Refused(401, "DESK-016 openid", "This sign-in is over. Begin again.");
    const provider = await this.found();
    const back = new URL(`${this.returnUrl()}${query}`);
    let claims: Record<string, unknown>;
    try {
      const tokens = await authorizationCodeGrant(provider, back, {
        expectedState: state,
        expectedNonce: begun.nonce,
        pkceCodeVerifier: begun.verifier,
        idTokenExpected: true,
      });
      claims = { ...tokens.claims() };
    } catch {
      throw new Refused(401, "DESK-016 openid", "The provider's answer could not be believed. Begin again.");
    }
    return this.personOf(claims);
  }

  private personOf(claims: Record<string, unknown>): Person {
    const name = claims[this.config.nameClaim] ?? claims["name"] ?? claims["sub"];
    const given = claims[this.config.roleClaim];
    const roles = (Array.isArray(given) ? given : [given]).filter((one): one is Role => (ROLES as readonly unknown[]).includes(one));
    const role = ROLES.findLast((one) => roles.includes(one));
    if (typeof name !== "string" || !person.safeParse(name).success)
      throw new Refused(403, "DESK-016 openid", "The provider gave no name that can stand beside an action.");
    if (role === undefined)
      throw new Refused(
        403,
        "DESK-016 openid",
        `The provider gave none of the desk's roles (${ROLES.join(", ")}) in the claim ${this.config.roleClaim}.`,
      );
    return { name, role };
  }

  private async found(): Promise<Configuration> {
    const { issuer, clientId } = this.config;
    const isLocal = isLoopback(new URL(issuer).hostname);
    // Only a provider on this machine may be asked without TLS.
    const options = isLocal ? { execute: [allowInsecureRequests] } : {};
    this.provider ??= discovery(new URL(issuer), clientId, this.secret, undefined, options);
    try {
      return await this.provider;
    } catch {
      this.provider = null;
      throw new Refused(502, "DESK-016 openid", "The provider of the accounts does not answer. Try again in a moment.");
    }
  }

  private returnUrl(): string {
    return `${this.config.publicUrl.replace(/\/$/, "")}${RETURN_PATH}`;
  }
}

/** A secret by its reference: `env:NAME` or `file:PATH`. @throws CommandError naming the reference, never what is in it */
export function secretOf(reference: string): string {
  const [kind, ...rest] = reference.split(":");
  const name = rest.join(":");
  let secret: string | undefined;
  try {
    secret = kind === "env" ? process.env[name] : readFileSync(name, "utf8").trim();
  } catch (error) {
    throw unreadable(reference, (error as NodeJS.ErrnoException).code ?? "it cannot be read");
  }
  if (secret === undefined || secret === "") throw unreadable(reference, "it is empty or not set");
  return secret;
}

function unreadable(reference: string, why: string): CommandError {
  const words = `bearing-rise: DESK-003 secret: desk.openid.clientSecret is ${reference}: ${why}. Put the secret there; a file is looked for from the configuration's own folder.`;
  return new CommandError(EXIT.lineOrRules, words);
}
