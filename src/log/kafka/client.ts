import { Kafka, type LogEntry, logLevel } from "kafkajs";
import type { Logger } from "../../telemetry/logger.ts";
import { applyRemedies } from "./remedies.ts";
import { CONNECTION_TIMEOUT_MS, type KafkaSettings, REQUEST_TIMEOUT_MS, RETRY } from "./settings.ts";
import { Sockets } from "./sockets.ts";

/** A transaction whose predecessor is still being ended (to be tried again at once) and rebalances are the daily life of a group: nothing to tell anybody. */
const EVERYDAY =
  /concurrent operation on the same transaction|rebalanc|re-joining|not aware of this member|coordinator is not available|coordinator is loading/i;

/**
 * A client of its own: every group member and every transactional producer needs one, since the producers and consumers of
 * one kafkajs instance share one map of committed offsets [source].
 */
export function kafkaClient(
  settings: KafkaSettings,
  logger: Logger,
  purpose: string,
  sockets = new Sockets(settings.socketFactory),
): Kafka {
  applyRemedies();
  return new Kafka({
    clientId: `${settings.application}.${purpose}`,
    brokers: [...settings.brokers],
    ...(settings.tls === undefined ? {} : { ssl: settings.tls }),
    ...(settings.sasl === undefined ? {} : { sasl: settings.sasl }),
    socketFactory: sockets.factory,
    connectionTimeout: CONNECTION_TIMEOUT_MS,
    authenticationTimeout: REQUEST_TIMEOUT_MS,
    requestTimeout: REQUEST_TIMEOUT_MS,
    retry: RETRY,
    logLevel: logLevel.WARN,
    logCreator: () => (entry) => {
      if (!sockets.hungUp) tell(logger, purpose, entry);
    },
  });
}

function tell(logger: Logger, purpose: string, { level, namespace, log }: LogEntry): void {
  const { message } = log;
  const facts = { client: purpose, part: namespace, ...(typeof log["error"] === "string" ? { reason: log["error"] } : {}) };
  if (level !== logLevel.ERROR || EVERYDAY.test(message) || EVERYDAY.test(String(log["error"] ?? ""))) {
    logger.debug("broker-lost", message, facts);
    return;
  }
  logger.warn("broker-lost", message, facts);
}
