import { once } from "node:events";
import type { AddressInfo } from "node:net";
import Fastify, { type FastifyInstance, type FastifyReply, type FastifyRequest } from "fastify";
import * as z from "zod";
import { ClosedError, type Log, NoRoomError, OverloadedError } from "../../log/log.ts";
import type { Logger } from "../../telemetry/logger.ts";
import type { FeedMetrics } from "../../telemetry/metrics.ts";
import { portMistake } from "../../telemetry/port-mistake.ts";
import { Bearers, feedToken, MOST_TOKENS, type Permitted } from "./bearer.ts";
import { type Answer, type Fate, Intake } from "./intake.ts";
import { MOST_REQUEST_RECORDS, offersOf, RequestRefused } from "./request-body.ts";

/** `feed.http` of the live configuration. */
export const httpFeedConfig = z.strictObject({
  host: z.string().min(1).default("127.0.0.1").describe("Address to listen on. Anything but this machine belongs behind a proxy with TLS."),
  port: z.int().gte(0).lte(65_535).default(8_471),
  tokens: z.array(feedToken).min(1).max(MOST_TOKENS).describe("Who may feed."),
});
export type HttpFeedConfig = z.infer<typeof httpFeedConfig>;

/** What one request, one connection and all together may take. Assumptions of ours. */
export const HTTP_LIMITS = {
  /** Over 1,000 axles a record of 64, or 40,000 one by one. */
  bodyBytes: 8 * 1024 * 1024,
  records: MOST_REQUEST_RECORDS,
  headerBytes: 16 * 1024,
  connections: 256,
  /** Requests being worked on; past it 429. */
  requests: 64,
  requestsAConnection: 100_000,
  headersMs: 10_000,
  requestMs: 30_000,
  keepAliveMs: 65_000,
} as const;

/** Said with 429: the log takes far more in a second than is ever waiting. */
const RETRY_AFTER_SECONDS = 1;
/** Said when the disk is full: nobody mends that in a second. */
const RETRY_AFTER_ROOM_SECONDS = 30;

export interface HttpFeed {
  /** `http://127.0.0.1:8471`. */
  readonly url: string;
  /** Takes no more requests; resolves when those begun are answered. */
  close(): Promise<void>;
}

interface Parts {
  config: HttpFeedConfig;
  log: Log;
  logger: Logger;
  metrics: FeedMetrics;
  /** Shared with the other inputs of the process; one of its own when left out. */
  intake?: Intake;
  limits?: Partial<Record<keyof typeof HTTP_LIMITS, number>>;
}

/** `POST /feed`: records by HTTP, answered when they are durable. */
export async function startHttpFeed(parts: Parts): Promise<HttpFeed> {
  const { config, logger } = parts;
  const limits = { ...HTTP_LIMITS, ...parts.limits };
  const app = Fastify({
    bodyLimit: limits.bodyBytes,
    requestTimeout: limits.requestMs,
    keepAliveTimeout: limits.keepAliveMs,
    maxRequestsPerSocket: limits.requestsAConnection,
    forceCloseConnections: "idle",
    return503OnClosing: true,
    http: {
      maxHeaderSize: limits.headerBytes,
      headersTimeout: Math.min(limits.headersMs, limits.requestMs),
      connectionsCheckingInterval: Math.min(1_000, limits.requestMs),
    },
  });
  app.server.maxConnections = limits.connections;
  // Records are cut from the bytes as they came.
  app.removeAllContentTypeParsers();
  app.addContentTypeParser("*", { parseAs: "buffer" }, (_request, body, done) => done(null, body));
  routeFeed(app, parts.intake ?? new Intake(parts.log), parts, limits.requests);
  app.setNotFoundHandler((_request, reply) => problem(reply, 404, "FEED-404 no-such-path", "Records go to POST /feed."));
  app.setErrorHandler((error, _request, reply) => failed(error, reply, logger));
  await app.listen({ host: config.host, port: config.port }).catch((error: unknown) => {
    throw portMistake("feed.http", config, error);
  });
  const { address, port, family } = app.server.address() as AddressInfo;
  const url = `http://${family === "IPv6" ? `[${address}]` : address}:${port}`;
  logger.info("feed-opened", `Records are taken at ${url}/feed.`, { input: "http", url });
  return {
    url,
    close: async () => {
      await closeQuietly(app);
      logger.info("feed-closed", "No more records are taken over HTTP.", { input: "http" });
    },
  };
}

function routeFeed(app: FastifyInstance, intake: Intake, parts: Parts, mostRequests: number): void {
  const bearers = new Bearers(parts.config.tokens);
  const senders = new WeakMap<FastifyRequest, Permitted>();
  let working = 0;
  app.addHook("onRequest", async (request, reply) => {
    const sender = bearers.find(request.headers.authorization);
    if (sender === null) {
      parts.logger.warn("feed-refused", "A request without a known token was turned away.", { input: "http", from: request.ip });
      reply.header("WWW-Authenticate", 'Bearer realm="feed"');
      return problem(reply, 401, "FEED-401 unknown-token", "Send `Authorization: Bearer TOKEN` with a token of the configuration.");
    }
    senders.set(request, sender);
    if (request.headers["content-encoding"] !== undefined) {
      return problem(reply, 415, "FEED-415 encoded", "Send the records as they are, without Content-Encoding.");
    }
    if (working >= mostRequests) {
      parts.metrics.overloaded.add(1);
      return overloaded(reply, RETRY_AFTER_SECONDS, `${mostRequests} requests are being worked on.`);
    }
    working++;
    const leave = () => {
      working--;
    };
    reply.raw.once("close", leave);
  });
  app.post("/feed", async (request, reply) => {
    const sender = senders.get(request)!;
    const offers = offersOf(request.headers, Buffer.isBuffer(request.body) ? request.body : Buffer.alloc(0));
    const answers = await intake.take(offers, { name: `feed-http/${sender.name}`, topics: sender.topics }, parts.metrics);
    return reply.code(answers.every(({ fate }) => fate === "refused") ? 422 : 200).send(answerOf(answers));
  });
}

/** Counts, the fate of each record in order, and the reason of each that was refused. */
function answerOf(answers: readonly Answer[]): object {
  const counts: Record<Fate, number> = { accepted: 0, repeated: 0, refused: 0, own: 0 };
  for (const { fate } of answers) counts[fate]++;
  return {
    ...counts,
    fates: answers.map(({ fate }) => fate),
    refusals: answers.flatMap(({ line, why }) => (why === null ? [] : [{ line, ...why }])),
  };
}

function failed(error: unknown, reply: FastifyReply, logger: Logger): FastifyReply {
  if (error instanceof RequestRefused) return problem(reply, error.status, error.reason, error.advice);
  if (error instanceof OverloadedError) return overloaded(reply, RETRY_AFTER_SECONDS, error.message);
  if (error instanceof NoRoomError) return overloaded(reply, RETRY_AFTER_ROOM_SECONDS, error.message, 503);
  if (error instanceof ClosedError) return overloaded(reply, RETRY_AFTER_SECONDS, error.message, 503);
  const status = (error as { statusCode?: unknown }).statusCode;
  if (status === 413) return problem(reply, 413, "FEED-413 too-large", `Send at most ${HTTP_LIMITS.bodyBytes} bytes in a request.`);
  if (typeof status === "number" && status >= 400 && status < 500) {
    return problem(reply, status, "FEED-400 bad-request", (error as Error).message);
  }
  logger.error("log-failed", "Records could not be written; the sender was told to send them again.", { input: "http", error });
  return overloaded(reply, RETRY_AFTER_SECONDS, "The log did not take the records.", 503);
}

/** Nobody can tell how much was taken: the sender sends all of it again, and what was taken is a repeat. */
function overloaded(reply: FastifyReply, seconds: number, why: string, status = 429): FastifyReply {
  reply.header("Retry-After", String(seconds));
  return problem(reply, status, status === 429 ? "FEED-429 overloaded" : "FEED-503 not-durable", `${why} Send all of it again.`);
}

function problem(reply: FastifyReply, status: number, reason: string, advice: string): FastifyReply {
  return reply.code(status).send({ reason, advice });
}

/** Connections that are idle, or never say anything, do not hold the end up. */
async function closeQuietly(app: FastifyInstance): Promise<void> {
  const closed = app.server.listening ? once(app.server, "close") : Promise.resolve();
  const closing = app.close();
  const patience = setTimeout(() => app.server.closeAllConnections(), CLOSE_PATIENCE_MS);
  await closing;
  await closed;
  clearTimeout(patience);
}

/** Less than the process has for all its parts together. */
const CLOSE_PATIENCE_MS = 1_000;
