import { createInterface } from "node:readline";
import { Health } from "../../src/telemetry/health.ts";
import { createLogger } from "../../src/telemetry/logger.ts";
import { createMetrics } from "../../src/telemetry/metrics.ts";
import { Published } from "../../src/telemetry/published.ts";
import { startTelemetry } from "../../src/telemetry/server.ts";

/**
 * The telemetry of a processor without the processor: the heartbeat beats, and each line of standard input is a record of
 * `site-conditions`. `node small-processor.ts PORT`
 */
const BEAT_MS = 250;

const metrics = createMetrics({ version: "test" });
const logger = createLogger();
const health = new Health();
health.part("small").ready();
await startTelemetry({ host: "127.0.0.1", port: Number(process.argv[2]) }, { metrics, health, logger });
const { lastTickMs } = metrics.stage("follow", "passes", 0);
setInterval(() => lastTickMs.set(Date.now()), BEAT_MS);
const published = new Published(metrics, logger);
let offset = 0;
for await (const line of createInterface({ input: process.stdin })) {
  published.take({ topic: "site-conditions", partition: 0, offset: offset++, value: Buffer.from(line), arrivedMs: Date.now() }, true);
  published.tell();
}
