import { setTimeout as sleep } from "node:timers/promises";
import { Kafka, logLevel } from "kafkajs";
import { applyRemedies } from "../../src/log/kafka/remedies.ts";

/** A broker is ready when it answers a request of a client with metadata, not when it prints a line. */
const READY_WITHIN_MS = 60_000;
const ASK_AGAIN_MS = 100;

/**
 * Waits until the listener at `address` answers a Metadata request. `gone` says that waiting is of no use any more.
 * A listener that asks for a name and password counts as ready when it takes connections at all.
 */
export async function answers(address: string, gone: () => string | null, secured: boolean): Promise<void> {
  applyRemedies();
  const deadline = performance.now() + READY_WITHIN_MS;
  for (;;) {
    const why = gone();
    if (why !== null) throw new Error(`the test broker ended: ${why}`);
    const kafka = new Kafka({ brokers: [address], clientId: "ready", logLevel: logLevel.NOTHING, retry: { retries: 0 } });
    const admin = kafka.admin();
    try {
      await admin.connect();
      const { brokers } = await admin.describeCluster();
      if (brokers.length > 0) return;
    } catch (error) {
      if (secured && error instanceof Error && !/ECONNREFUSED|ECONNRESET|EHOSTUNREACH|timeout/i.test(error.message)) return;
      if (performance.now() > deadline) throw new Error(`the test broker at ${address} does not answer: ${String(error)}`);
      await sleep(ASK_AGAIN_MS);
    } finally {
      await admin.disconnect().catch(() => {});
    }
  }
}
