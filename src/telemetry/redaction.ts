/** What stands in a line where a secret stood. */
export const REDACTED = "[redacted]";

/** Field names whose values never reach a line, however deep they stand (to `DEPTH`). Compared without case, `-` and `_`. */
const SECRET_FIELDS = new Set([
  "password",
  "passphrase",
  "secret",
  "clientsecret",
  "secrets",
  "token",
  "tokens",
  "accesstoken",
  "refreshtoken",
  "idtoken",
  "bearer",
  "authorization",
  "proxyauthorization",
  "cookie",
  "setcookie",
  "apikey",
  "privatekey",
  "signingkey",
  "credentials",
  "sasl",
]);

/** A line is for people: deeper structure, longer lists and longer text are cut, which also bounds a line. */
const DEPTH = 6;
const MOST_ENTRIES = 50;
const MOST_CHARACTERS = 2_000;

/** Secrets that stand inside text: credentials in an address, an authorization header, a webhook signing secret. */
const SECRETS_IN_TEXT: readonly [RegExp, string][] = [
  [/\b([a-z][a-z0-9+.-]*:\/\/)[^\s/@]+@/gi, `$1${REDACTED}@`],
  [/\b(bearer|basic)\s+[a-z0-9._~+/=-]{6,}/gi, `$1 ${REDACTED}`],
  [/\bwhsec_[a-z0-9+/=]+/gi, REDACTED],
  [/\b(password|passphrase|secret|token|api[-_]?key)(["']?\s*[=:]\s*["']?)[^\s"',;&]+/gi, `$1$2${REDACTED}`],
  [/-----BEGIN [A-Z ]*PRIVATE KEY-----[\s\S]*?(-----END [A-Z ]*PRIVATE KEY-----|$)/g, REDACTED],
];

/** Takes secrets out of text and bounds its length. */
export function redactText(text: string): string {
  let clean = text;
  for (const [pattern, by] of SECRETS_IN_TEXT) clean = clean.replace(pattern, by);
  return clean.length > MOST_CHARACTERS ? `${clean.slice(0, MOST_CHARACTERS)}... (${clean.length} characters)` : clean;
}

/** A copy of `value`, fit for a line: secrets out, errors with their code and cause, everything bounded. */
export function redact(value: unknown): unknown {
  return clean(value, DEPTH);
}

function clean(value: unknown, depth: number): unknown {
  if (typeof value === "string") return redactText(value);
  if (typeof value === "bigint") return value.toString();
  if (typeof value === "function" || typeof value === "symbol") return undefined;
  if (typeof value !== "object" || value === null) return value;
  if (depth === 0) return "...";
  if (value instanceof Error) return cleanError(value, depth);
  if (value instanceof Date) return Number.isNaN(value.getTime()) ? "invalid time" : value.toISOString();
  if (ArrayBuffer.isView(value)) return `${value.byteLength} bytes`;
  if (Array.isArray(value)) return value.slice(0, MOST_ENTRIES).map((item) => clean(item, depth - 1));
  if ("toJSON" in value && typeof value.toJSON === "function") return clean(value.toJSON(), depth - 1);
  return cleanFields(value, depth);
}

function cleanFields(value: object, depth: number): Record<string, unknown> {
  const fields: Record<string, unknown> = {};
  for (const [name, held] of Object.entries(value).slice(0, MOST_ENTRIES)) {
    fields[name] = SECRET_FIELDS.has(name.toLowerCase().replaceAll(/[-_]/g, "")) && held !== null ? REDACTED : clean(held, depth - 1);
  }
  return fields;
}

function cleanError(error: Error, depth: number): Record<string, unknown> {
  const said: Record<string, unknown> = { type: error.name, message: redactText(error.message) };
  if ("code" in error) said["code"] = clean(error.code, depth - 1);
  if (error.stack !== undefined) said["stack"] = redactText(error.stack);
  if (error.cause !== undefined) said["cause"] = clean(error.cause, depth - 1);
  return said;
}
