import { readFileSync } from "node:fs";
import { promisify } from "node:util";
import { gzip } from "node:zlib";
import cookie from "@fastify/cookie";
import helmet from "@fastify/helmet";
import rateLimit from "@fastify/rate-limit";
import fastifyStatic from "@fastify/static";
import fastify, { type FastifyError, type FastifyInstance, type FastifyReply, type FastifyRequest } from "fastify";
import type * as z from "zod";
import type { Logger } from "../../telemetry/logger.ts";
import type { DeskConfig } from "../desk-config.ts";
import type { Person } from "../people/role.ts";
import { Refused } from "../refused.ts";
import type { Doorkeeper } from "./doorkeeper.ts";
import { type Operation, ROUTES, type Route } from "./routes.ts";

/** An action is a few hundred bytes; notes have 2,000 characters. */
const BODY_BYTES = 32 * 1024;
/** Smaller answers are not worth packing. */
const PACK_FROM_BYTES = 4 * 1024;
/** Sign-ins that one address may try in a minute under one name: a person mistypes, a program guesses. Assumption. */
export const SIGN_INS_A_MINUTE = 10;
/** Requests of one address in a minute: many pages of a room behind one address. */
const REQUESTS_A_MINUTE = 6_000;

export interface Asked {
  request: FastifyRequest;
  reply: FastifyReply;
  person: Person | null;
  query: unknown;
  body: unknown;
}

/** What each operation does. An answer of undefined: the handler wrote it itself. */
export type Handlers = Record<Operation, (asked: Asked) => unknown>;

const packed = promisify(gzip);

/** The HTTP server: nothing of the desk's meaning, all of its manners. */
export async function serverOf(
  config: DeskConfig,
  doorkeeper: Doorkeeper,
  handlers: Handlers,
  pages: string | null,
  logger: Logger | null,
): Promise<FastifyInstance> {
  const app = fastify({
    bodyLimit: BODY_BYTES,
    routerOptions: { maxParamLength: 300 },
    trustProxy: config.proxy?.trusted ?? false,
    forceCloseConnections: true,
    ...(config.tls === undefined
      ? {}
      : { https: { cert: readFileSync(config.tls.cert), key: readFileSync(config.tls.key), minVersion: "TLSv1.2" as const } }),
  }) as unknown as FastifyInstance;
  await app.register(cookie);
  await app.register(helmet, {
    contentSecurityPolicy: {
      useDefaults: false,
      directives: {
        defaultSrc: ["'none'"],
        scriptSrc: ["'self'"],
        styleSrc: ["'self'"],
        imgSrc: ["'self'"],
        connectSrc: ["'self'"],
        formAction: ["'self'"],
        frameAncestors: ["'none'"],
        baseUri: ["'none'"],
      },
    },
    strictTransportSecurity: config.tls !== undefined || config.proxy !== undefined,
    referrerPolicy: { policy: "no-referrer" },
  });
  await app.register(rateLimit, { max: REQUESTS_A_MINUTE, timeWindow: "1 minute" });
  app.setErrorHandler((error, _request, reply) => refuse(error as FastifyError, reply, logger));
  app.setNotFoundHandler((_request, reply) => reply.code(404).send({ code: "DESK-022 unknown", message: "There is nothing here." }));
  app.addHook("onSend", pack);
  for (const [name, route] of Object.entries(ROUTES) as [Operation, Route][]) addRoute(app, route, handlers[name], doorkeeper, name);
  if (pages !== null) await app.register(fastifyStatic, { root: pages, preCompressed: true, cacheControl: false, setHeaders });
  return app;
}

function addRoute(app: FastifyInstance, route: Route, handler: (asked: Asked) => unknown, doorkeeper: Doorkeeper, name: Operation): void {
  app.route({
    method: route.method,
    url: route.url,
    ...(name === "signIn"
      ? { config: { rateLimit: { max: SIGN_INS_A_MINUTE, timeWindow: "1 minute", hook: "preHandler", keyGenerator: signInKey } } }
      : {}),
    handler: async (request, reply) => {
      const person = await doorkeeper.check(request, route);
      reply.header("cache-control", "no-store");
      const query = route.query === undefined ? null : parsed(route.query, request.query, "query");
      const body = route.body === undefined ? null : parsed(route.body, request.body, "body");
      const answer = await handler({ request, reply, person, query, body });
      if (answer === undefined) return reply;
      if (!("text" in route.reply)) reply.type("application/json; charset=utf-8");
      return typeof answer === "string" ? answer : JSON.stringify(answer);
    },
  });
}

function signInKey({ ip, body }: FastifyRequest): string {
  return `${ip} ${String((body as { name?: unknown } | null)?.name).slice(0, 64)}`;
}

function parsed(schema: z.ZodType, value: unknown, where: string): unknown {
  const judged = schema.safeParse(value ?? {});
  if (judged.success) return judged.data;
  const issue = judged.error.issues[0];
  const path = [where, ...(issue?.path ?? [])].join(".");
  throw new Refused(400, "DESK-025 malformed", `${path}: ${issue?.message ?? "not understood"}`);
}

function refuse(error: FastifyError | Refused, reply: FastifyReply, logger: Logger | null): FastifyReply {
  reply.header("cache-control", "no-store");
  if (error instanceof Refused) {
    if (error.cause !== undefined) logger?.error("desk-action-refused", "The desk refused a request.", { error });
    return reply.code(error.status).send({ code: error.code, message: error.message, ...error.more });
  }
  const status = statusOf(error);
  if (status === 503)
    return reply
      .code(503)
      .header("retry-after", "1")
      .send({ code: "DESK-030 overloaded", message: "Too much is waiting. Try again in a second." });
  if (status === 429) return reply.code(429).send({ code: "DESK-031 too-often", message: "Too many requests. Wait a minute." });
  if (status < 500) return reply.code(status).send({ code: "DESK-025 malformed", message: error.message });
  logger?.error("desk-action-refused", "The desk failed at a request.", { error });
  return reply.code(500).send({ code: "DESK-070 fault", message: "A fault of ours. Please report it." });
}

function statusOf(error: FastifyError): number {
  if (error.code?.startsWith("LOG-003") || error.code?.startsWith("LOG-004")) return 503;
  return error.statusCode ?? 500;
}

async function pack(request: FastifyRequest, reply: FastifyReply, payload: unknown): Promise<unknown> {
  if (typeof payload !== "string" || payload.length < PACK_FROM_BYTES) return payload;
  if (!/\bgzip\b/.test(String(request.headers["accept-encoding"] ?? ""))) return payload;
  reply.header("content-encoding", "gzip").header("vary", "accept-encoding").removeHeader("content-length");
  return packed(payload, { level: 1 });
}

/** Built files carry a hash in their names; the page itself is asked for each time. */
function setHeaders(reply: FastifyReply, path: string): void {
  reply.header("cache-control", path.includes("assets") ? "public, max-age=31536000, immutable" : "no-cache");
}
