import { setTimeout as pause } from "node:timers/promises";
import type { Log } from "../log/log.ts";
import type { Logger } from "../telemetry/logger.ts";
import type { WebhookMetrics } from "../telemetry/metrics.ts";
import { type Chance, Courier } from "./courier.ts";
import { endpointOf, processSecrets, type SecretSources, type WebhookConfig } from "./endpoint.ts";

export interface Webhooks {
  /** Settles when one of them cannot go on by itself: the process must end. */
  readonly broken: Promise<Error>;
  /** Breaks off what is under way; positions are kept. */
  close(): Promise<void>;
}

interface Parts {
  /** `webhooks` of the live configuration. */
  config: readonly WebhookConfig[];
  log: Log;
  logger: Logger;
  metrics: { webhook(endpoint: string): WebhookMetrics };
  secrets?: SecretSources;
  chance?: Chance;
  post?: typeof fetch;
}

const WORLD: Chance = {
  nowMs: Date.now,
  random: Math.random,
  wait: (ms, signal) => pause(ms, undefined, { signal, ref: false }).catch(() => {}),
};

/**
 * Tells every endpoint of every version of every warning, as in the Standard Webhooks specification 1.0.0.
 * @throws WebhookMistake before anything is sent
 */
export async function startWebhooks({
  config,
  log,
  logger,
  metrics,
  secrets = processSecrets,
  chance = WORLD,
  post = fetch,
}: Parts): Promise<Webhooks> {
  const endpoints = config.map((one) => endpointOf(one, secrets));
  const couriers = endpoints.map(
    (endpoint) => new Courier({ endpoint, log, logger, chance, post, metrics: metrics.webhook(endpoint.name) }),
  );
  const memberships = await Promise.all(couriers.map((courier) => courier.begin()));
  for (const { name } of endpoints) logger.info("webhook-opened", `${name} is told of warnings.`, { endpoint: name });
  return {
    broken: memberships.length === 0 ? new Promise(() => {}) : Promise.race(memberships.map(({ broken }) => broken)),
    close: async () => {
      await Promise.all(couriers.map((courier) => courier.close()));
      for (const { name } of endpoints) logger.info("webhook-closed", `${name} is told no more.`, { endpoint: name });
    },
  };
}
