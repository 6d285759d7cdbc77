import { statfs } from "node:fs/promises";
import { createServer, type IncomingMessage, type ServerResponse } from "node:http";
import type { AddressInfo } from "node:net";
import { z } from "zod";
import type { Health, HealthReport } from "./health.ts";
import { type Logger, loggerConfig } from "./logger.ts";
import type { Metrics } from "./metrics.ts";
import { portMistake } from "./port-mistake.ts";

export const TELEMETRY_PORT = 9_464;
/** Connections at one time: Prometheus, a probe, a person. */
const MOST_CONNECTIONS = 32;
const REQUEST_MS = 10_000;
const MOST_HEADER_BYTES = 8 * 1_024;

/** `telemetry` of the live configuration. */
export const telemetryConfig = z.strictObject({
  host: z
    .string()
    .min(1)
    .default("127.0.0.1")
    .describe("Address of health, readiness and metrics; they need no sign-in, so keep them inside."),
  port: z.int().min(0).max(65_535).default(TELEMETRY_PORT).describe("0 takes any free port."),
  log: loggerConfig.prefault({}),
});
export type TelemetryConfig = z.infer<typeof telemetryConfig>;

export interface TelemetryParts {
  metrics: Metrics;
  health: Health;
  logger: Logger;
  /** Its file system's free space is told. */
  dataFolder?: string | undefined;
}

export interface Telemetry {
  readonly port: number;
  readonly url: string;
  close(): Promise<void>;
}

/** Opens `/health/live`, `/health/ready` and `/metrics` on a port of their own. @throws CommandError when the port cannot be had */
export async function startTelemetry(config: Pick<TelemetryConfig, "host" | "port">, parts: TelemetryParts): Promise<Telemetry> {
  const server = createServer(
    { maxHeaderSize: MOST_HEADER_BYTES, requestTimeout: REQUEST_MS, headersTimeout: REQUEST_MS, keepAliveTimeout: REQUEST_MS },
    (request, response) => {
      answer(request, response, parts).catch((error: unknown) => {
        parts.logger.error("process-failed", "a telemetry request could not be answered", { error });
        if (!response.headersSent) response.writeHead(500);
        response.end();
      });
    },
  );
  server.maxConnections = MOST_CONNECTIONS;
  await new Promise<void>((resolve, reject) => {
    server.once("error", (error) => reject(portMistake("telemetry", config, error)));
    server.listen(config.port, config.host, () => {
      server.removeAllListeners("error");
      resolve();
    });
  });
  const { port } = server.address() as AddressInfo;
  const url = `http://${config.host.includes(":") ? `[${config.host}]` : config.host}:${port}`;
  parts.logger.info("telemetry-opened", `health, readiness and metrics are at ${url}`, { url });
  return {
    port,
    url,
    close: () =>
      new Promise((resolve) => {
        server.close(() => {
          parts.logger.info("telemetry-closed", "telemetry is closed");
          resolve();
        });
        server.closeAllConnections();
      }),
  };
}

async function answer(request: IncomingMessage, response: ServerResponse, parts: TelemetryParts): Promise<void> {
  if (request.method !== "GET" && request.method !== "HEAD") return void response.writeHead(405, { allow: "GET, HEAD" }).end();
  switch (request.url?.split("?", 1)[0]) {
    case "/health/live":
      return report(response, parts.health.live());
    case "/health/ready":
      return report(response, parts.health.ready());
    case "/metrics": {
      await readAtScrape(parts);
      const text = await parts.metrics.registry.metrics();
      return void response.writeHead(200, { "content-type": parts.metrics.registry.contentType }).end(text);
    }
    default:
      return void response.writeHead(404).end();
  }
}

function report(response: ServerResponse, health: HealthReport): void {
  response.writeHead(health.ok ? 200 : 503, { "content-type": "application/json", "cache-control": "no-store" });
  response.end(`${JSON.stringify(health)}\n`);
}

/** What nobody tells by itself. A file system that does not answer is not told, and does not cost the scrape. */
async function readAtScrape({ metrics, health, logger, dataFolder }: TelemetryParts): Promise<void> {
  metrics.families.ready.cell().set(health.ready().ok ? 1 : 0);
  metrics.families.logLinesHeldBack.cell().set(logger.heldBack);
  if (dataFolder === undefined) return;
  const space = await statfs(dataFolder).catch(() => null);
  metrics.families.dataFreeBytes.cell().set(space === null ? Number.NaN : space.bavail * space.bsize);
  metrics.families.dataSizeBytes.cell().set(space === null ? Number.NaN : space.blocks * space.bsize);
}
