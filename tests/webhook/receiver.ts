import { createServer, type IncomingHttpHeaders, type Server, type ServerResponse } from "node:http";
import type { AddressInfo } from "node:net";
import { setTimeout as pause } from "node:timers/promises";
import type { NewRecord } from "../../src/log/log.ts";
import type { Chance } from "../../src/webhook/courier.ts";

export interface Received {
  headers: IncomingHttpHeaders;
  body: string;
  path: string;
}

/** A real HTTP server that takes webhooks, and answers as it is told. */
export class Receiver {
  readonly received: Received[] = [];
  /** What the next requests are answered; 204 when there is nothing left. */
  readonly answers: (number | ((response: ServerResponse) => void))[] = [];
  /** Answers every request while it is set. */
  always: number | null = null;
  private readonly server: Server;

  constructor() {
    this.server = createServer((request, response) => {
      let body = "";
      request.setEncoding("utf8");
      request.on("data", (text: string) => {
        body += text;
      });
      request.on("end", () => {
        this.received.push({ headers: request.headers, body, path: request.url ?? "" });
        const answer = this.always ?? this.answers.shift() ?? 204;
        if (typeof answer === "function") answer(response);
        else response.writeHead(answer).end();
      });
    });
  }

  async listen(): Promise<this> {
    await new Promise<void>((resolve) => this.server.listen(0, "127.0.0.1", resolve));
    return this;
  }

  get url(): string {
    return `http://127.0.0.1:${(this.server.address() as AddressInfo).port}/hook`;
  }

  /** `webhook-id` of everything received, in order. */
  get ids(): string[] {
    return this.received.map(({ headers }) => String(headers["webhook-id"]));
  }

  async close(): Promise<void> {
    this.server.closeAllConnections();
    await new Promise((resolve) => this.server.close(resolve));
  }
}

export const SECRET = `whsec_${Buffer.from("an invented key of thirty-two by").toString("base64")}`;
export const OLD_SECRET = `whsec_${Buffer.from("the invented key of former days!").toString("base64")}`;

/** Waits pass a thousand times faster; what was waited for is kept. */
export function quickChance(change: Partial<Chance> = {}): Chance & { waits: number[] } {
  const waits: number[] = [];
  return {
    waits,
    nowMs: Date.now,
    random: () => 1,
    wait: async (ms, signal) => {
      waits.push(ms);
      await pause(ms / 1_000, undefined, { signal }).catch(() => {});
    },
    ...change,
  };
}

/** A record of the topic `warnings`: as much of a warning as a webhook looks at. */
export function warningRecord(id: string, version = 1): NewRecord {
  return { topic: "warnings", key: id, value: JSON.stringify({ id, version, time: "2026-03-04T05:08:31.000Z", level: "warn" }) };
}
