import * as z from "zod";

/** `desk` of the live configuration. Secrets by reference only: `env:NAME` or `file:PATH`. */
export const deskConfig = z.strictObject({
  host: z
    .string()
    .min(1)
    .max(255)
    .default("127.0.0.1")
    .describe("Address to listen on; beyond this machine only with users, and TLS or a declared proxy."),
  port: z.int().gte(0).lte(65_535).default(8470),
  users: z.string().min(1).optional().describe("Users file; made by `bearing-rise user add`."),
  sessions: z.string().min(1).optional().describe("File that keeps who is signed in over a restart; hashes only."),
  tls: z.strictObject({ cert: z.string().min(1).describe("PEM file."), key: z.string().min(1).describe("PEM file.") }).optional(),
  proxy: z
    .strictObject({
      trusted: z.array(z.string().min(1)).min(1).max(50).describe("Addresses or networks of proxies that end TLS before us."),
    })
    .optional(),
  operators: z.int().gte(1).lte(100).default(1).describe("People at the desk in a shift, for the load a person."),
  otherRules: z
    .record(z.string().min(1).max(64), z.string().min(1))
    .default({})
    .describe("Rule sets to try in 'what if': name -> file or folder."),
  openid: z
    .strictObject({
      issuer: z.url(),
      clientId: z.string().min(1),
      clientSecret: z
        .string()
        .regex(/^(env|file):.+/, "a reference: env:NAME or file:PATH")
        .optional(),
      publicUrl: z.url().describe("Address of this desk as people's browsers know it."),
      nameClaim: z.string().default("preferred_username"),
      roleClaim: z.string().default("roles").describe("Claim that holds one of our roles, or a list with some."),
    })
    .optional(),
});
export type DeskConfig = z.infer<typeof deskConfig>;

/** The same with every path from the folder that `at` knows; a secret in a file is one too. */
export function deskPathsFrom(config: DeskConfig, at: (path: string) => string): DeskConfig {
  const { users, sessions, tls, openid, otherRules } = config;
  const maybe = (path: string | undefined) => (path === undefined ? undefined : at(path));
  const secret = openid?.clientSecret;
  const clientSecret = secret?.startsWith("file:") ? `file:${at(secret.slice("file:".length))}` : secret;
  return {
    ...config,
    users: maybe(users),
    sessions: maybe(sessions),
    tls: tls === undefined ? undefined : { cert: at(tls.cert), key: at(tls.key) },
    openid: openid === undefined ? undefined : { ...openid, clientSecret },
    otherRules: Object.fromEntries(Object.entries(otherRules).map(([name, path]) => [name, at(path)])),
  };
}
