import { readFileSync } from "node:fs";
import { isIP } from "node:net";
import * as z from "zod";

/** A reference to a secret: nothing secret stands in the configuration itself. */
const reference = z
  .string()
  .regex(/^(env:[A-Za-z_][A-Za-z0-9_]*|file:.+)$/)
  .describe("env:NAME or file:PATH, holding whsec_ and base64.");

/** `webhooks` of the live configuration: endpoints that are told of every version of every warning. */
export const webhookConfig = z.strictObject({
  name: z
    .string()
    .regex(/^[A-Za-z0-9._-]{1,64}$/)
    .describe("Stands in metrics, and in the log for the position: another name begins anew."),
  url: z.string().min(1).max(2_048),
  secrets: z.array(reference).min(1).max(3).describe("The new one first; the old ones stay until every receiver knows it."),
  plainHttp: z.boolean().default(false).describe("Declares that http:// to another machine is meant: what is sent can be read on the way."),
  timeoutSeconds: z.number().gte(1).lte(30).default(15),
  giveUpHours: z
    .number()
    .gt(0)
    .lte(24 * 31)
    .default(72)
    .describe("A version older than this is not tried any more: news so old has come by another way, or is none."),
});
export type WebhookConfig = z.infer<typeof webhookConfig>;

/** The same with the paths of its secrets made absolute. */
export function webhookPathsFrom(config: WebhookConfig, at: (path: string) => string): WebhookConfig {
  const secrets = config.secrets.map((secret) => (secret.startsWith("file:") ? `file:${at(secret.slice("file:".length))}` : secret));
  return { ...config, secrets };
}

export const MOST_WEBHOOKS = 32;
export const webhooksConfig = z
  .array(webhookConfig)
  .max(MOST_WEBHOOKS)
  .refine((webhooks) => new Set(webhooks.map(({ name }) => name)).size === webhooks.length, "every webhook has a name of its own");

/** An endpoint that may be called. */
export interface Endpoint {
  name: string;
  url: string;
  /** Signing keys, every one of which signs. */
  keys: readonly Buffer[];
  timeoutMs: number;
  giveUpMs: number;
}

/** Bytes of a signing key by the Standard Webhooks specification 1.0.0, "Signature scheme": 192 to 512 bits. */
const KEY_BYTES_LEAST = 24;
const KEY_BYTES_MOST = 64;
const PREFIX = "whsec_";

/** A webhook that cannot be used as it is configured. */
export class WebhookMistake extends Error {
  readonly code: "HOOK-001 url" | "HOOK-002 plain-http" | "HOOK-003 secret";

  constructor(code: WebhookMistake["code"], name: string, words: string) {
    super(`${code}: webhook ${name}: ${words}`);
    this.name = "WebhookMistake";
    this.code = code;
  }
}

export interface SecretSources {
  env: Readonly<Record<string, string | undefined>>;
  readFile(path: string): string;
}

export const processSecrets: SecretSources = { env: process.env, readFile: (path) => readFileSync(path, "utf8") };

/** @throws WebhookMistake */
export function endpointOf(config: WebhookConfig, secrets: SecretSources = processSecrets): Endpoint {
  const { name } = config;
  if (!URL.canParse(config.url)) throw new WebhookMistake("HOOK-001 url", name, "write a whole address, e.g. https://host/path");
  const url = new URL(config.url);
  if (url.protocol !== "https:" && url.protocol !== "http:")
    throw new WebhookMistake("HOOK-001 url", name, "only https and http are called");
  if (url.username !== "" || url.password !== "") {
    throw new WebhookMistake("HOOK-001 url", name, "leave user and password out of the address; receivers check the signature");
  }
  if (url.protocol === "http:" && !config.plainHttp && !isThisMachine(url.hostname)) {
    throw new WebhookMistake(
      "HOOK-002 plain-http",
      name,
      `use https, or declare \`plainHttp: true\` if ${url.hostname} is to be sent readable text`,
    );
  }
  return {
    name,
    url: url.href,
    keys: config.secrets.map((secret) => keyOf(name, secret, secrets)),
    timeoutMs: config.timeoutSeconds * 1_000,
    giveUpMs: config.giveUpHours * 3_600_000,
  };
}

function isThisMachine(host: string): boolean {
  if (host === "localhost" || host.endsWith(".localhost") || host === "[::1]") return true;
  return isIP(host) === 4 && host.startsWith("127.");
}

/** Says where the secret was looked for, never what was found. */
function keyOf(name: string, reference: string, { env, readFile }: SecretSources): Buffer {
  const [kind, place] = [reference.slice(0, reference.indexOf(":")), reference.slice(reference.indexOf(":") + 1)];
  let text: string | undefined;
  try {
    text = kind === "env" ? env[place] : readFile(place);
  } catch (error) {
    throw new WebhookMistake("HOOK-003 secret", name, `${place} cannot be read: ${(error as NodeJS.ErrnoException).code ?? "error"}`);
  }
  const told = text?.trim() ?? "";
  if (told === "") throw new WebhookMistake("HOOK-003 secret", name, `${reference} holds nothing`);
  const encoded = told.startsWith(PREFIX) ? told.slice(PREFIX.length) : "";
  const key = Buffer.from(encoded, "base64");
  const isWhole = key.toString("base64").replace(/=+$/, "") === encoded.replace(/=+$/, "");
  if (!isWhole || key.length < KEY_BYTES_LEAST || key.length > KEY_BYTES_MOST) {
    throw new WebhookMistake(
      "HOOK-003 secret",
      name,
      `${reference} is to hold ${PREFIX} and ${KEY_BYTES_LEAST} to ${KEY_BYTES_MOST} random bytes in base64`,
    );
  }
  return key;
}
