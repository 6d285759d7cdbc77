import { Webhook } from "standardwebhooks";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { silentLogger } from "../../src/telemetry/logger.ts";
import { createMetrics } from "../../src/telemetry/metrics.ts";
import { webhookConfig } from "../../src/webhook/endpoint.ts";
import { startWebhooks, type Webhooks } from "../../src/webhook/webhooks.ts";
import { Taken, until } from "../feed/input/taken.ts";
import { OLD_SECRET, quickChance, Receiver, SECRET, warningRecord } from "./receiver.ts";

const env = { HOOK: SECRET, OLD: OLD_SECRET };
let receiver: Receiver;
const open: Webhooks[] = [];

beforeEach(async () => {
  receiver = await new Receiver().listen();
});
afterEach(async () => {
  for (const webhooks of open.splice(0)) await webhooks.close();
  await receiver.close();
});

async function started(taken: Taken, change: object = {}, chance = quickChance(), log = taken.log) {
  const metrics = createMetrics({ version: "test", nodeDefaults: false });
  const config = [webhookConfig.parse({ name: "dispatch", url: receiver.url, secrets: ["env:HOOK"], ...change })];
  const webhooks = await startWebhooks({
    config,
    log,
    logger: silentLogger(),
    metrics,
    chance,
    secrets: { env, readFile: () => "" },
  });
  open.push(webhooks);
  return { webhooks, metrics: metrics.webhook("dispatch"), chance };
}

const stop = async (webhooks: Webhooks) => {
  await webhooks.close();
  open.splice(open.indexOf(webhooks), 1);
};

/** Standard Webhooks 1.0.0 [P], checked with the receiver's library of the same specification. */
describe("a warning that was published", () => {
  it("reaches the endpoint signed so that the specification's own library takes it", async () => {
    const taken = new Taken();
    await started(taken);
    await taken.log.append([warningRecord("alder-14/1/0117@20260304T050607000Z/187/right", 3)]);
    await until(() => receiver.received.length === 1);
    const { headers, body } = receiver.received[0]!;
    const opened = new Webhook(SECRET).verify(body, headers as Record<string, string>);
    expect(opened).toEqual({
      type: "warning.published",
      timestamp: "2026-03-04T05:08:31.000Z",
      data: JSON.parse(taken.texts("warnings")[0]!),
    });
    expect(headers["webhook-id"]).toBe("alder-14/1/0117@20260304T050607000Z/187/right/v3");
    expect(() => new Webhook(OLD_SECRET).verify(body, headers as Record<string, string>)).toThrow();
  });

  it("carries the warning byte for byte", async () => {
    const taken = new Taken();
    await started(taken);
    const value = '{ "version": 1, "id": "a",  "time": "2026-03-04T05:08:31.000Z", "place": "car 47 – Zürich" }';
    await taken.log.append([{ topic: "warnings", key: "a", value }]);
    await until(() => receiver.received.length === 1);
    expect(receiver.received[0]!.body).toContain(`"data":${value}}`);
  });

  it("is signed with the old secret as well while secrets are being changed", async () => {
    const taken = new Taken();
    await started(taken, { secrets: ["env:HOOK", "env:OLD"] });
    await taken.log.append([warningRecord("a")]);
    await until(() => receiver.received.length === 1);
    const { headers, body } = receiver.received[0]!;
    for (const secret of [SECRET, OLD_SECRET]) new Webhook(secret).verify(body, headers as Record<string, string>);
  });

  it("has an id without full stops, for they separate what is signed", async () => {
    const taken = new Taken();
    await started(taken);
    await taken.log.append([warningRecord("alder.14/50%/1"), warningRecord("alder%2E14/50%/1")]);
    await until(() => receiver.received.length === 2);
    expect(receiver.ids).toEqual(["alder%2E14/50%25/1/v1", "alder%252E14/50%25/1/v1"]);
  });

  it("comes in the order of the log, each version once", async () => {
    const taken = new Taken();
    const { metrics } = await started(taken);
    const records = Array.from({ length: 100 }, (_, i) => warningRecord(`w-${i % 7}`, i));
    await taken.log.append(records);
    await until(() => receiver.received.length === 100);
    expect(receiver.ids).toEqual(records.map(({ key }, i) => `${key}/v${i}`));
    await until(() => metrics.behind.value === 0);
    expect([metrics.delivered.value, metrics.failed.value, metrics.up.value]).toEqual([100, 0, 1]);
  });
});

describe("an endpoint that does not take a warning", () => {
  it("is told again with growing pauses until it does; nothing behind it goes first", async () => {
    const taken = new Taken();
    receiver.answers.push(500, 503, 404, 302);
    const { metrics, chance } = await started(taken);
    await taken.log.append([warningRecord("a"), warningRecord("b")]);
    await until(() => receiver.received.length === 6);
    expect(receiver.ids).toEqual(["a/v1", "a/v1", "a/v1", "a/v1", "a/v1", "b/v1"]);
    expect(chance.waits.filter((ms) => ms !== 1_000)).toEqual([2_000, 4_000, 8_000]);
    await until(() => metrics.delivered.value === 2);
    expect([metrics.failed.value, metrics.up.value, metrics.oldestPendingMs.value]).toEqual([4, 1, Number.NaN]);
  });

  it("gets the same id and bytes at every try, and a timestamp of its own", async () => {
    const taken = new Taken();
    let nowMs = Date.now();
    receiver.answers.push(500);
    await started(taken, {}, quickChance({ nowMs: () => (nowMs += 2_000) }));
    await taken.log.append([warningRecord("a")]);
    await until(() => receiver.received.length === 2);
    const [first, second] = receiver.received;
    expect(second!.body).toBe(first!.body);
    expect(Number(second!.headers["webhook-timestamp"])).toBeGreaterThan(Number(first!.headers["webhook-timestamp"]));
    new Webhook(SECRET).verify(second!.body, second!.headers as Record<string, string>);
  });

  it("is left alone as long as it asks", async () => {
    const taken = new Taken();
    receiver.answers.push((response) => response.writeHead(429, { "retry-after": "77" }).end());
    const { chance } = await started(taken);
    await taken.log.append([warningRecord("a")]);
    await until(() => receiver.received.length === 2);
    expect(chance.waits).toContain(77_000);
  });

  it("that redirects is not followed", async () => {
    const taken = new Taken();
    const elsewhere = await new Receiver().listen();
    receiver.answers.push((response) => response.writeHead(307, { location: elsewhere.url }).end());
    await started(taken);
    await taken.log.append([warningRecord("a")]);
    await until(() => receiver.received.length === 2);
    expect(elsewhere.received).toHaveLength(0);
    await elsewhere.close();
  });

  it("that never answers is given up on after its time, and told again", async () => {
    const taken = new Taken();
    receiver.answers.push(() => {});
    const { metrics } = await started(taken, { timeoutSeconds: 1 });
    await taken.log.append([warningRecord("a")]);
    await until(() => receiver.received.length === 2);
    expect(metrics.failed.value).toBe(1);
  });

  it("that is gone (410) is told nothing more", async () => {
    const taken = new Taken();
    receiver.answers.push(410);
    const { metrics } = await started(taken);
    await taken.log.append([warningRecord("a"), warningRecord("b")]);
    await until(() => metrics.up.value === 0);
    await new Promise((resolve) => setTimeout(resolve, 20));
    expect(receiver.ids).toEqual(["a/v1"]);
  });

  it("holds up neither the log nor another endpoint, and is told by the metric", async () => {
    const taken = new Taken();
    const alive = await new Receiver().listen();
    receiver.always = 500;
    const metrics = createMetrics({ version: "test", nodeDefaults: false });
    const webhook = (name: string, url: string) => webhookConfig.parse({ name, url, secrets: ["env:HOOK"] });
    open.push(
      await startWebhooks({
        config: [webhook("dead", receiver.url), webhook("alive", alive.url)],
        log: taken.log,
        logger: silentLogger(),
        metrics,
        chance: quickChance(),
        secrets: { env, readFile: () => "" },
      }),
    );
    const ids = Array.from({ length: 50 }, (_, i) => `w${i}`);
    for (const id of ids) await taken.log.append([warningRecord(id)]);
    await until(() => alive.received.length === 50);
    expect(new Set(receiver.ids)).toEqual(new Set(["w0/v1"]));
    expect([metrics.webhook("dead").up.value, metrics.webhook("dead").behind.value]).toEqual([0, 50]);
    expect(metrics.webhook("alive").up.value).toBe(1);
    await alive.close();
  });

  it("is not told what has become too old, and that is counted as not delivered", async () => {
    let nowMs = 1_000_000_000;
    const taken = new Taken({}, { now: () => nowMs });
    await taken.log.append([warningRecord("old")]);
    nowMs += 73 * 3_600_000;
    await taken.log.append([warningRecord("new")]);
    const { metrics } = await started(taken, {}, quickChance({ nowMs: () => nowMs }));
    await until(() => metrics.behind.value === 0 && receiver.received.length === 1);
    expect(receiver.ids).toEqual(["new/v1"]);
  });
});

describe("after a stop", () => {
  it("an endpoint is told of what came meanwhile, and of nothing again that it had taken", async () => {
    const taken = new Taken();
    const first = await started(taken);
    await taken.log.append(Array.from({ length: 30 }, (_, i) => warningRecord(`w${i}`)));
    await until(() => receiver.received.length === 30);
    await stop(first.webhooks);
    await taken.log.append([warningRecord("x")]);
    await started(taken);
    await until(() => receiver.received.length === 31);
    expect(receiver.ids.slice(30)).toEqual(["x/v1"]);
  });

  it("in the middle of a try, that one is told again and none is lost", async () => {
    const taken = new Taken();
    receiver.answers.push(204, 204, () => {});
    const first = await started(taken);
    await taken.log.append(["a", "b", "c", "d"].map((id) => warningRecord(id)));
    await until(() => receiver.received.length === 3);
    await stop(first.webhooks);
    await started(taken);
    await until(() => receiver.received.length === 5);
    expect(receiver.ids).toEqual(["a/v1", "b/v1", "c/v1", "c/v1", "d/v1"]);
  });

  it("by force, at most the deliveries since the last commit are told again", async () => {
    const taken = new Taken();
    const killed = taken.broker.connect();
    receiver.answers.push(...Array.from({ length: 30 }, () => 204), () => {});
    await startWebhooks({
      config: [webhookConfig.parse({ name: "dispatch", url: receiver.url, secrets: ["env:HOOK"] })],
      log: killed,
      logger: silentLogger(),
      metrics: createMetrics({ version: "test", nodeDefaults: false }),
      chance: quickChance(),
      secrets: { env, readFile: () => "" },
    });
    await taken.log.append(Array.from({ length: 40 }, (_, i) => warningRecord(`w${i}`)));
    await until(() => receiver.received.length === 31);
    killed.kill();
    killed.bury();
    await started(taken);
    await until(() => receiver.ids.at(-1) === "w39/v1");
    expect(new Set(receiver.ids).size).toBe(40);
    expect(receiver.received.length).toBeLessThanOrEqual(31 + 20);
  });

  it("of one of two processes, the other takes over, and each version is told", async () => {
    const taken = new Taken();
    const other = taken.broker.connect();
    const first = await started(taken);
    await started(taken, {}, quickChance(), other);
    await taken.log.append(Array.from({ length: 20 }, (_, i) => warningRecord(`w${i}`)));
    await until(() => new Set(receiver.ids).size === 20);
    await stop(first.webhooks);
    await taken.log.append(Array.from({ length: 20 }, (_, i) => warningRecord(`x${i}`)));
    await until(() => new Set(receiver.ids).size === 40);
  });
});

describe("commits whose outcome nobody can tell", () => {
  it("lose no delivery", async () => {
    let calls = 0;
    const fates = ["done-unanswered", "undone-unanswered", "answered"] as const;
    const taken = new Taken();
    const flaky = taken.broker.connect({ fate: (call) => (call === "commit" ? fates[calls++ % 3]! : "answered") });
    await started(taken, {}, quickChance(), flaky);
    for (let i = 0; i < 100; i++) await taken.log.append([warningRecord(`w${i}`)]);
    await until(() => new Set(receiver.ids).size === 100);
  });
});
