import { createRequire } from "node:module";
import { beforeAll, describe, expect, it } from "vitest";
import { applyRemedies } from "../../../src/log/kafka/remedies.ts";

const inside = createRequire(import.meta.url);
const QUEUE = "kafkajs/src/network/requestQueue";

interface Queue {
  throttledUntil: number;
  throttleCheckTimeoutId: NodeJS.Timeout | null;
  checkPendingRequests(): void;
  push(request: { entry: { correlationId: number }; expectResponse: boolean; sendRequest(): void }): void;
  destroy(): void;
}

const logger = { debug: () => {} };

/** The class as the package has it, without what was done to it in this process. */
function untouched(): new (options: object) => Queue {
  const path = inside.resolve(QUEUE);
  const cached = inside.cache[path];
  delete inside.cache[path];
  const fresh = inside(path) as new (options: object) => Queue;
  if (cached !== undefined) inside.cache[path] = cached;
  return fresh;
}

describe("kafkajs's request queue (#1556, #1604, #1751)", () => {
  beforeAll(applyRemedies);

  it("arms no timer while nothing waits; the package's own arms one with a negative delay, over and over", () => {
    const Mended = inside(QUEUE) as new (options: object) => Queue;
    const mended = new Mended({ logger });
    mended.checkPendingRequests();
    expect(mended.throttleCheckTimeoutId).toBe(null);

    const own = new (untouched())({ logger });
    own.checkPendingRequests();
    expect(own.throttleCheckTimeoutId).not.toBe(null);
    own.destroy();
  });

  it("still sends what a broker asked it to hold back, once the time is over", async () => {
    const Mended = inside(QUEUE) as new (options: object) => Queue;
    const queue = new Mended({ logger });
    const heldUntil = Date.now() + 50;
    queue.throttledUntil = heldUntil;
    const sentAt = await new Promise<number>((resolve) => {
      queue.push({ entry: { correlationId: 1 }, expectResponse: true, sendRequest: () => resolve(Date.now()) });
    });
    expect(sentAt).toBeGreaterThanOrEqual(heldUntil - 1);
    expect(queue.throttleCheckTimeoutId).toBe(null);
    queue.destroy();
  });
});

describe("a request for committed offsets (KIP-447)", () => {
  beforeAll(applyRemedies);

  it("asks for stable ones, and a broker that cannot be asked so in kafkajs's own newest version", () => {
    const { versions, protocol } = inside("kafkajs/src/protocol/requests/offsetFetch") as {
      versions: string[];
      protocol(of: { version: number }): (asked: object) => { request: { apiVersion: number } };
    };
    const newest = Math.max(...versions.map(Number));
    expect(newest).toBe(7);
    const asked = { groupId: "g", topics: [] };
    // As kafkajs chooses: the newest of both.
    const spoken = [3, 4, 5, 6, 7, 8, 10].map((broker) => protocol({ version: Math.min(newest, broker) })(asked).request.apiVersion);
    expect(spoken).toEqual([3, 4, 4, 4, 7, 7, 7]);
  });
});
