import {
  type Batch,
  type Claim,
  FencedError,
  type Log,
  type LogRecord,
  type Membership,
  type Source,
  UnknownOutcomeError,
  type Worker,
} from "../log/log.ts";
import type { Logger } from "../telemetry/logger.ts";
import type { WebhookMetrics } from "../telemetry/metrics.ts";
import { type Attempt, attempt } from "./attempt.ts";
import { backOffMs } from "./back-off.ts";
import type { Endpoint } from "./endpoint.ts";
import { messageOf } from "./message.ts";

/** Wall clock and chance, injected. */
export interface Chance {
  nowMs(): number;
  /** Resolves after `ms`, or at once when the signal aborts. */
  wait(ms: number, signal: AbortSignal): Promise<void>;
  /** 0 to 1. */
  random(): number;
}

export interface CourierParts {
  endpoint: Endpoint;
  log: Log;
  logger: Logger;
  metrics: WebhookMetrics;
  chance: Chance;
  post?: typeof fetch;
}

/** Deliveries after which the position is committed at the latest. After a crash so many are told again. */
const DELIVERIES_A_COMMIT = 20;
/** How long one batch is worked on before the log has its turn again. */
const TURN_MS = 5_000;
/** Between two heartbeats while an endpoint takes its time. */
const HEARTBEAT_MS = 1_000;

/** One partition of `warnings` on its way to the endpoint. */
interface Route {
  claim: Claim;
  /** Everything below was delivered, or given up. */
  position: number;
  committed: number;
  end: number;
  failures: number;
  signal: AbortSignal;
}

/**
 * Brings every version of every warning to one endpoint, in order, each at least once. A member of its own stage, with
 * positions of its own: what one endpoint does not take holds up neither the stream nor the others.
 *
 *     reading ─► delivered ─► reading ...
 *        └─────► failed ─► the partition is paused ─► after the pause: reading, from the same record
 */
export class Courier implements Worker {
  readonly #parts: CourierParts;
  readonly #routes = new Map<number, Route>();
  readonly #stop = new AbortController();
  readonly #waiting = new Set<Promise<void>>();
  readonly #working = new Set<Promise<void>>();
  readonly #membership = Promise.withResolvers<Membership>();
  #isFailing = false;
  #isGone = false;

  constructor(parts: CourierParts) {
    this.#parts = parts;
  }

  /** Stage of the endpoint's positions. */
  get stage(): string {
    return `webhook-${this.#parts.endpoint.name}`;
  }

  async begin(): Promise<Membership> {
    const membership = await this.#parts.log.work(this.stage, ["warnings"], this);
    this.#membership.resolve(membership);
    return membership;
  }

  /** Breaks off what is under way; it is sent again after the next start. */
  async close(): Promise<void> {
    this.#stop.abort();
    // What was delivered is committed before the claim is given back.
    await Promise.all(this.#working);
    await (await this.#membership.promise).leave();
    await Promise.all(this.#waiting);
  }

  async assigned(source: Source, signal: AbortSignal): Promise<number> {
    const claim = await this.#parts.log.claim(source);
    const { position } = claim.start;
    const both = AbortSignal.any([signal, this.#stop.signal]);
    this.#routes.set(source.partition, { claim, position, committed: position, end: position, failures: 0, signal: both });
    return position;
  }

  async revoked(source: Source): Promise<void> {
    const route = this.#routes.get(source.partition);
    this.#routes.delete(source.partition);
    this.#tell();
    await route?.claim.release();
  }

  async records(source: Source, batch: Batch): Promise<void> {
    const route = this.#routes.get(source.partition);
    if (route === undefined) return;
    const work = this.#work(source, route, batch);
    this.#working.add(work);
    try {
      await work;
    } finally {
      this.#working.delete(work);
    }
  }

  async #work(source: Source, route: Route, batch: Batch): Promise<void> {
    route.end = batch.end;
    this.#tell();
    const turnEndsMs = this.#parts.chance.nowMs() + TURN_MS;
    for (const record of batch.records) {
      if (record.offset < route.position) continue;
      if (batch.stale || route.signal.aborted || this.#isGone) break;
      if (this.#parts.chance.nowMs() >= turnEndsMs) {
        (await this.#membership.promise).resume(source, route.position);
        break;
      }
      if (!(await this.#one(source, route, record, batch))) break;
    }
    await this.#commit(source, route);
  }

  /** Whether to go on with the next record. */
  async #one(source: Source, route: Route, record: LogRecord, batch: Batch): Promise<boolean> {
    const { endpoint, chance, logger } = this.#parts;
    const message = messageOf(record);
    const isTooOld = chance.nowMs() - record.arrivedMs > endpoint.giveUpMs;
    if (message === null || isTooOld) {
      logger.error("webhook-gave-up", message === null ? "A record is no warning." : "A warning became too old to be told.", {
        endpoint: endpoint.name,
        message: message?.id ?? `${record.partition}@${record.offset}`,
      });
      return this.#past(source, route, record);
    }
    const tried = await this.#try(message, route, batch);
    if (batch.stale || route.signal.aborted) return false;
    if (tried.outcome === "delivered") {
      this.#delivered(route);
      return this.#past(source, route, record);
    }
    this.#parts.metrics.failed.add();
    await this.#failed(source, route, record, tried);
    return false;
  }

  async #try(message: NonNullable<ReturnType<typeof messageOf>>, route: Route, batch: Batch): Promise<Attempt> {
    const { endpoint, chance, post } = this.#parts;
    const answered = new AbortController();
    const alive = this.#beat(batch, AbortSignal.any([answered.signal, route.signal]));
    const tried = await attempt(endpoint, message, chance.nowMs(), route.signal, post);
    answered.abort();
    await alive;
    return tried;
  }

  async #beat(batch: Batch, signal: AbortSignal): Promise<void> {
    for (;;) {
      await this.#parts.chance.wait(HEARTBEAT_MS, signal);
      if (signal.aborted) return;
      await batch.heartbeat();
    }
  }

  #delivered(route: Route): void {
    const { metrics, logger, endpoint } = this.#parts;
    route.failures = 0;
    metrics.delivered.add();
    metrics.up.set(1);
    metrics.oldestPendingMs.set(Number.NaN);
    if (this.#isFailing) logger.info("webhook-recovered", `${endpoint.name} takes warnings again.`, { endpoint: endpoint.name });
    this.#isFailing = false;
  }

  async #failed(source: Source, route: Route, record: LogRecord, tried: Exclude<Attempt, { outcome: "delivered" }>): Promise<void> {
    const { metrics, logger, endpoint, chance } = this.#parts;
    route.failures++;
    metrics.up.set(0);
    metrics.oldestPendingMs.set(record.arrivedMs);
    if (!this.#isFailing) {
      logger.warn("webhook-failing", `${endpoint.name}: ${tried.words}. Its warnings wait and are tried again.`, {
        endpoint: endpoint.name,
      });
    }
    this.#isFailing = true;
    if (tried.outcome === "gone") {
      this.#isGone = true;
      logger.error("webhook-closed", `${endpoint.name} wants no more warnings (410). Take it out of the configuration, or start again.`, {
        endpoint: endpoint.name,
      });
    }
    const pauseMs = tried.outcome === "gone" ? null : Math.max(tried.retryAfterMs ?? 0, backOffMs(route.failures, chance.random));
    const membership = await this.#membership.promise;
    membership.pause(source);
    if (pauseMs !== null) this.#resumeLater(source, route, pauseMs, membership);
  }

  #resumeLater(source: Source, route: Route, pauseMs: number, membership: Membership): void {
    const waited = this.#parts.chance.wait(pauseMs, route.signal).then(() => {
      this.#waiting.delete(waited);
      if (!route.signal.aborted && this.#routes.get(source.partition) === route) membership.resume(source, route.position);
    });
    this.#waiting.add(waited);
  }

  async #past(source: Source, route: Route, record: LogRecord): Promise<boolean> {
    route.position = record.offset + 1;
    this.#tell();
    return route.position - route.committed < DELIVERIES_A_COMMIT || (await this.#commit(source, route));
  }

  /**
   * Whether the route still goes on. One taken over by another process ends here without a word; when nobody can tell
   * whether a commit went through, a new claim says where it stands.
   */
  async #commit(source: Source, route: Route): Promise<boolean> {
    if (route.position === route.committed) return true;
    try {
      await route.claim.commit({ position: route.position, refoldFrom: route.position, outputs: [] });
      route.committed = route.position;
      return true;
    } catch (error) {
      if (error instanceof FencedError) {
        if (this.#routes.get(source.partition) === route) this.#routes.delete(source.partition);
        return false;
      }
      return this.#again(source, route, error);
    }
  }

  async #again(source: Source, route: Route, why: unknown): Promise<boolean> {
    const { logger, log, endpoint } = this.#parts;
    logger.warn("commit-unknown", `${endpoint.name}: the position may not be written; it is claimed anew.`, {
      endpoint: endpoint.name,
      unknown: why instanceof UnknownOutcomeError,
      error: why,
    });
    try {
      if (route.signal.aborted) return false;
      route.claim = await log.claim(source);
      route.committed = route.claim.start.position;
      return true;
    } catch (error) {
      // Kept for the next commit, which fails and comes here again.
      logger.error("log-failed", `${endpoint.name}: the position cannot be claimed.`, { endpoint: endpoint.name, error });
      return true;
    }
  }

  #tell(): void {
    let behind = 0;
    for (const { end, position } of this.#routes.values()) behind += Math.max(end - position, 0);
    this.#parts.metrics.behind.set(behind);
  }
}
