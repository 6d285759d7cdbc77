import { createHash } from "node:crypto";
import { once } from "node:events";
import { request } from "node:http";
import { connect } from "node:net";
import fc from "fast-check";
import { afterEach, describe, expect, it } from "vitest";
import { type HttpFeed, httpFeedConfig, startHttpFeed } from "../../../src/feed/input/http-feed.ts";
import { NoRoomError } from "../../../src/log/log.ts";
import type { MemoryFaults, MemoryOptions } from "../../../src/log/memory.ts";
import { silentLogger } from "../../../src/telemetry/logger.ts";
import { axles, begun, deskAction, envelope, heartbeat, samples } from "../samples.ts";
import { feedMetrics, Taken } from "./taken.ts";

const TOKEN = "c2VjcmV0LW9mLWFsZGVyLTE0LWZvci10ZXN0cw";
const DESK_TOKEN = "ZGVzay10b2tlbi1mb3ItdGVzdHM";
const sha256 = (token: string) => createHash("sha256").update(token).digest("hex");

const open: HttpFeed[] = [];
afterEach(async () => {
  for (const feed of open.splice(0)) await feed.close();
});

async function started(
  limits: NonNullable<Parameters<typeof startHttpFeed>[0]["limits"]> = {},
  faults: MemoryFaults = {},
  options: Partial<MemoryOptions> = {},
) {
  const taken = new Taken(faults, options);
  const config = httpFeedConfig.parse({
    port: 0,
    tokens: [
      { name: "alder", sha256: sha256(TOKEN) },
      { name: "desk", sha256: sha256(DESK_TOKEN), topics: ["desk-actions"] },
    ],
  });
  const metrics = feedMetrics();
  const feed = await startHttpFeed({ config, log: taken.log, logger: silentLogger(), metrics, limits });
  open.push(feed);
  return { taken, feed, metrics };
}

function post(feed: HttpFeed, body: string, headers: Record<string, string> = {}) {
  return fetch(`${feed.url}/feed`, {
    method: "POST",
    body,
    headers: { authorization: `Bearer ${TOKEN}`, "content-type": "application/x-ndjson", ...headers },
  });
}

const lines = (...records: [string, object][]) => records.map(([topic, record]) => envelope(topic, record)).join("\n");

describe("POST /feed", () => {
  it("listens on this machine alone unless it is told otherwise", async () => {
    const { feed } = await started();
    expect(feed.url).toMatch(/^http:\/\/127\.0\.0\.1:\d+$/);
  });

  it("takes one record, and records by the line, and says what became of each", async () => {
    const { taken, feed } = await started();
    const one = await post(feed, envelope("site-reports", heartbeat), { "content-type": "application/json" });
    expect([one.status, await one.json()]).toEqual([
      200,
      { accepted: 1, repeated: 0, refused: 0, own: 0, fates: ["accepted"], refusals: [] },
    ]);
    const many = await post(feed, `${lines(["axle-readings", begun], ["site-reports", heartbeat])}\n{"topic":"axle-readings"\n`);
    expect(many.status).toBe(200);
    expect(await many.json()).toMatchObject({
      accepted: 1,
      repeated: 1,
      refused: 1,
      fates: ["accepted", "repeated", "refused"],
      refusals: [{ line: 3, reason: "FEED-002 not-json", path: "", expected: "one complete JSON value" }],
    });
    expect(taken.of("site-reports")).toHaveLength(1);
    expect(taken.of("rejected")).toHaveLength(1);
  });

  it("answers 422 when nothing could be used; it is on `rejected` all the same", async () => {
    const { taken, feed } = await started();
    const answer = await post(feed, "nonsense");
    expect(answer.status).toBe(422);
    expect(taken.of("rejected")).toHaveLength(1);
  });

  it("takes an envelope that is written over several lines", async () => {
    const { taken, feed } = await started();
    const body = JSON.stringify({ topic: "axle-readings", key: "alder-14/1", value: begun }, null, 2);
    expect((await post(feed, `${body}\n`, { "content-type": "application/json" })).status).toBe(200);
    expect(taken.values("axle-readings")).toEqual([begun]);
  });

  it("answers only when the records are durable", async () => {
    let go = () => {};
    const held = new Promise<void>((resolve) => {
      go = resolve;
    });
    const { feed } = await started({}, { passing: async (point) => (point === "appended" ? held : undefined) });
    let isAnswered = false;
    const answer = post(feed, envelope("axle-readings", axles)).then((one) => {
      isAnswered = true;
      return one;
    });
    // A second request goes all the way through while the first one waits.
    expect((await post(feed, "")).status).toBe(400);
    expect(isAnswered).toBe(false);
    go();
    expect((await answer).status).toBe(200);
  });

  it("knows nobody without a token of the configuration", async () => {
    const { taken, feed } = await started();
    for (const authorization of ["", "Bearer", "Bearer wrong", `Basic ${TOKEN}`, `Bearer ${TOKEN}x`, `Bearer ${sha256(TOKEN)}`]) {
      const answer = await post(feed, envelope("axle-readings", axles), { authorization });
      expect([answer.status, answer.headers.get("www-authenticate")], authorization).toEqual([401, 'Bearer realm="feed"']);
    }
    expect(taken.of("axle-readings")).toHaveLength(0);
  });

  it("lets a site's token send readings and no desk actions, a desk's the other way round", async () => {
    const { taken, feed } = await started();
    const site = await post(feed, lines(["axle-readings", begun], ["desk-actions", deskAction]));
    expect(await site.json()).toMatchObject({ fates: ["accepted", "refused"], refusals: [{ reason: "FEED-018 not-permitted" }] });
    const desk = await post(feed, lines(["desk-actions", deskAction]), { authorization: `Bearer ${DESK_TOKEN}` });
    expect(desk.status).toBe(200);
    expect(taken.of("desk-actions")).toHaveLength(1);
  });

  it("has no other path and no other method", async () => {
    const { feed } = await started();
    const headers = { authorization: `Bearer ${TOKEN}` };
    expect((await fetch(`${feed.url}/feed`, { headers })).status).toBe(404);
    expect((await fetch(`${feed.url}/`, { headers })).status).toBe(404);
  });
});

/** CloudEvents 1.0.2 [P]: cloudevents/spec, cloudevents/bindings/http-protocol-binding.md, sections 3.1 to 3.3. */
describe("CloudEvents", () => {
  const attributes = { specversion: "1.0", id: "17", source: "/sites/alder-14", type: "example.axles" };

  it("are taken in structured mode; the type says the topic", async () => {
    const { taken, feed } = await started();
    const body = JSON.stringify({ ...attributes, datacontenttype: "application/json", data: axles });
    const answer = await post(feed, body, { "content-type": "application/cloudevents+json; charset=utf-8" });
    expect(answer.status).toBe(200);
    expect(taken.values("axle-readings")).toEqual([axles]);
    expect(taken.of("axle-readings")[0]).toMatchObject({ key: "alder-14/1", headers: { ce_id: "17", ce_source: "/sites/alder-14" } });
  });

  it("are taken with their data in base64", async () => {
    const { taken, feed } = await started();
    const data_base64 = Buffer.from(JSON.stringify(heartbeat)).toString("base64");
    const body = JSON.stringify({ ...attributes, type: "heartbeat", data_base64 });
    expect((await post(feed, body, { "content-type": "application/cloudevents+json" })).status).toBe(200);
    expect(taken.values("site-reports")).toEqual([heartbeat]);
  });

  it("are taken in binary mode: attributes as headers, percent-decoded, the record as it is", async () => {
    const { taken, feed } = await started();
    const answer = await post(feed, JSON.stringify(begun), {
      "content-type": "application/json",
      "ce-specversion": "1.0",
      "ce-id": "a%20b",
      "ce-source": "/sites/alder-14",
      "ce-type": "example.pass-begun",
    });
    expect(answer.status).toBe(200);
    expect(taken.texts("axle-readings")).toEqual([JSON.stringify(begun)]);
    expect(taken.of("axle-readings")[0]!.headers.ce_id).toBe("a b");
  });

  it("are taken as a batch, each with its own answer; the same event again is a repeat", async () => {
    const { taken, feed } = await started();
    const events = samples
      .filter(([topic]) => topic !== "desk-actions")
      .map(([, record], i) => ({ ...attributes, id: String(i), type: (record as { type: string }).type, data: record }));
    const headers = { "content-type": "application/cloudevents-batch+json" };
    expect(await (await post(feed, JSON.stringify(events), headers)).json()).toMatchObject({ accepted: events.length, refused: 0 });
    expect(await (await post(feed, JSON.stringify(events), headers)).json()).toMatchObject({ accepted: 0, repeated: events.length });
    expect(taken.of("axle-readings")).toHaveLength(3);
  });

  it.each([
    ["without an id", { id: undefined }, "FEED-019 not-an-event"],
    ["of another version", { specversion: "0.3" }, "FEED-019 not-an-event"],
    ["of a type that nobody reads", { type: "example.weather" }, "FEED-005 unknown-topic"],
    ["that claim to be a tick", { type: "tick" }, "FEED-005 unknown-topic"],
    ["whose type is another than the record's", { type: "consists" }, "FEED-007 unknown-type"],
    ["without data", { data: undefined }, "FEED-019 not-an-event"],
  ])("%s are refused with the reason", async (_what, change, reason) => {
    const { feed } = await started();
    const body = JSON.stringify({ ...attributes, data: axles, ...change });
    const answer = await post(feed, body, { "content-type": "application/cloudevents+json" });
    expect(answer.status).toBe(422);
    expect(await answer.json()).toMatchObject({ refusals: [{ line: 1, reason }] });
  });
});

describe("more than it can take", () => {
  it("in the log is answered 429 with Retry-After, and taken when it comes again", async () => {
    let go = () => {};
    const held = new Promise<void>((resolve) => {
      go = resolve;
    });
    const { feed, metrics } = await started(
      {},
      { passing: async (point) => (point === "append" ? held : undefined) },
      { waitingBytes: 300 },
    );
    const first = post(feed, envelope("axle-readings", axles));
    let second = await post(feed, envelope("site-reports", heartbeat));
    while (second.status === 200) second = await post(feed, envelope("axle-readings", { ...axles, first: 3 }));
    expect([second.status, second.headers.get("retry-after")]).toEqual([429, "1"]);
    expect(metrics.overloaded.value).toBeGreaterThan(0);
    go();
    expect((await first).status).toBe(200);
    expect((await post(feed, envelope("axle-readings", { ...axles, first: 3 }))).status).toBe(200);
  });

  it("in requests at once is answered 429", async () => {
    let go = () => {};
    const held = new Promise<void>((resolve) => {
      go = resolve;
    });
    let waiting = () => {};
    const isWaiting = new Promise<void>((resolve) => {
      waiting = resolve;
    });
    const passing = async (point: string) => {
      if (point !== "append") return;
      waiting();
      await held;
    };
    const { feed } = await started({ requests: 1 }, { passing });
    const first = post(feed, envelope("axle-readings", axles));
    await isWaiting;
    const second = await post(feed, envelope("axle-readings", begun));
    expect([second.status, second.headers.get("retry-after")]).toEqual([429, "1"]);
    go();
    expect((await first).status).toBe(200);
    expect((await post(feed, envelope("axle-readings", begun))).status).toBe(200);
  });

  it("in bytes or in records of a request is answered 413, and nothing of it is taken", async () => {
    const { taken, feed } = await started({ bodyBytes: 2_000 });
    expect((await post(feed, "x".repeat(2_001))).status).toBe(413);
    const { feed: other } = await started();
    expect((await post(other, "\n".repeat(10_001))).status).toBe(413);
    expect((await post(other, `${"x\n".repeat(10_001)}`)).status).toBe(413);
    expect(taken.of("rejected")).toHaveLength(0);
  });

  it("in headers is answered 431", async () => {
    const { feed } = await started();
    expect((await post(feed, envelope("axle-readings", axles), { "x-long": "x".repeat(20_000) })).status).toBe(431);
  });

  it("in connections is not taken", async () => {
    const { feed } = await started({ connections: 2 });
    const { hostname, port } = new URL(feed.url);
    const sockets = [connect(Number(port), hostname), connect(Number(port), hostname)];
    await Promise.all(sockets.map((socket) => once(socket, "connect")));
    await expect(post(feed, envelope("axle-readings", axles))).rejects.toThrow();
    for (const socket of sockets) socket.destroy();
  });

  it("in time is cut off: a sender that never ends its request", async () => {
    const { feed } = await started({ requestMs: 100 });
    const slow = request(`${feed.url}/feed`, {
      method: "POST",
      headers: { authorization: `Bearer ${TOKEN}`, "content-type": "application/x-ndjson", "content-length": "1000" },
    });
    const status = new Promise<number>((resolve) => {
      slow.on("response", (response) => {
        response.resume();
        resolve(response.statusCode ?? 0);
      });
      slow.on("error", () => resolve(0));
    });
    slow.write("x");
    expect([0, 408]).toContain(await status);
  });

  it.each([
    ["application/xml", {}, 415],
    ["application/x-ndjson", { "content-encoding": "gzip" }, 415],
    ["application/cloudevents+json", {}, 400],
  ])("in form is refused as a whole: %s %o", async (type, headers, status) => {
    const { feed } = await started();
    expect((await post(feed, "<a/>", { "content-type": type, ...headers })).status).toBe(status);
  });

  it("for the disk is answered 503 with a longer Retry-After", async () => {
    const { taken, feed } = await started();
    taken.log.append = async () => {
      throw new NoRoomError("the disk is full");
    };
    const answer = await post(feed, envelope("axle-readings", axles));
    expect([answer.status, answer.headers.get("retry-after")]).toEqual([503, "30"]);
  });

  it("when the log is gone is answered 503, never 200", async () => {
    const { taken, feed } = await started();
    await taken.log.close();
    const answer = await post(feed, envelope("axle-readings", axles));
    expect([answer.status, answer.headers.get("retry-after")]).toEqual([503, "1"]);
  });
});

describe("whatever is sent", () => {
  const TYPES = ["application/json", "application/x-ndjson", "application/cloudevents+json", "application/cloudevents-batch+json"];

  it("is answered with what became of it, or with why it was not taken; never with a fault of ours", async () => {
    const { feed } = await started();
    const body = fc.oneof(
      fc.json(),
      fc.string(),
      fc.array(fc.json()).map((lines) => lines.join("\n")),
      fc
        .record({ specversion: fc.constantFrom("1.0", "2"), id: fc.string(), source: fc.string(), type: fc.string(), data: fc.jsonValue() })
        .map((event) => JSON.stringify(event)),
      fc.constantFrom(
        "[".repeat(100_000),
        `${"[".repeat(50_000)}${"]".repeat(50_000)}`,
        `{"specversion":"1.0","id":"1","source":"s","type":"axles","data":${"[".repeat(50_000)}${"]".repeat(50_000)}}`,
      ),
    );
    await fc.assert(
      fc.asyncProperty(body, fc.constantFrom(...TYPES), fc.boolean(), async (text, type, isBinary) => {
        const headers: Record<string, string> = isBinary
          ? { "ce-specversion": "1.0", "ce-id": "1", "ce-source": "s", "ce-type": "axles" }
          : {};
        const answer = await post(feed, text, { "content-type": type, ...headers });
        expect([200, 400, 413, 422]).toContain(answer.status);
        const told = (await answer.json()) as { fates?: string[]; reason?: string };
        expect(told.fates ?? told.reason).toBeDefined();
      }),
      { numRuns: 300, seed: 8 },
    );
  });
});

describe("closing", () => {
  it("answers what was begun, takes nothing new, and waits for no idle connection", async () => {
    const { feed } = await started();
    expect((await post(feed, envelope("axle-readings", axles))).status).toBe(200);
    await feed.close();
    open.length = 0;
    await expect(post(feed, envelope("axle-readings", axles))).rejects.toThrow();
  });
});
