import { setTimeout as sleep } from "node:timers/promises";
import { Kafka, logLevel } from "kafkajs";
import { applyRemedies } from "../../src/log/kafka/remedies.ts";
import type { BrokerOptions } from "./broker.ts";

/** A broker is ready when it answers a request of a client with metadata, not when it prints a line. */
const READY_WITHIN_MS = 110_000;
const ASK_AGAIN_MS = 100;

/**
 * Waits until the listener at `address` answers a Metadata request. `gone` says that waiting is of no use any more.
 */
export async function answers(address: string, gone: () => string | null, secured: BrokerOptions["secured"]): Promise<void> {
  applyRemedies();
  const deadline = performance.now() + READY_WITHIN_MS;
  for (;;) {
    const why = gone();
    if (why !== null) throw new Error(`the test broker ended: ${why}`);
    const kafka = new Kafka({ brokers: [address], clientId: "ready", logLevel: logLevel.NOTHING, retry: { retries: 0 }, ...secured });
    const admin = kafka.admin();
    try {
      await admin.connect();
      const { brokers } = await admin.describeCluster();
      if (brokers.length > 0) return;
    } catch (error) {
      if (performance.now() > deadline) throw new Error(`the test broker at ${address} does not answer: ${String(error)}`);
      await sleep(ASK_AGAIN_MS);
    } finally {
      await admin.disconnect().catch(() => {});
    }
  }
}
