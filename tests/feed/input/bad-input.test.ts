import { createHash } from "node:crypto";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { type HttpFeed, httpFeedConfig, startHttpFeed } from "../../../src/feed/input/http-feed.ts";
import { silentLogger } from "../../../src/telemetry/logger.ts";
import type { Warning } from "../../../src/warning/warning.ts";
import { type Arrival, demoRailroad, demoRules, simulated, standing } from "../../flow/folded.ts";
import { LiveRun } from "../../replay/live-run.ts";
import { malformed } from "./malformed.ts";
import { feedMetrics } from "./taken.ts";

/** Malformed records that come in among the good ones. */
const BAD = 100_000;
/** What is sent in one request: as much as arrived in a minute. */
const MINUTE_MS = 60_000;
const TOKEN = "YmFkLWlucHV0LWZvci10ZXN0cw";

const railroad = demoRailroad();
const rules = demoRules();
const { feed } = simulated({ seed: 13, hours: 6, world: "mixed", trainsPerDay: 90 }, railroad);

/** The whole way, from the request to the published warning: only the good records, or the bad ones among them. */
async function run(bad: number): Promise<{ live: LiveRun; taken: number; refused: number }> {
  const live = new LiveRun(feed[0]!.atMs);
  await live.start(railroad, rules);
  const token = {
    name: "test",
    sha256: createHash("sha256").update(TOKEN).digest("hex"),
    topics: ["axle-readings", "site-reports", "consists", "desk-actions"],
  };
  const http = await startHttpFeed({
    config: httpFeedConfig.parse({ port: 0, tokens: [token] }),
    log: live.broker.connect(),
    logger: silentLogger(),
    metrics: feedMetrics(),
  });
  const counts = { taken: 0, refused: 0 };
  const minutes = byMinute(feed);
  const broken = malformed();
  let sent = 0;
  for (const [i, { atMs, arrivals }] of minutes.entries()) {
    await live.tickTo(atMs);
    const lines = arrivals.map(({ topic, key, json }) => `{"topic":"${topic}","key":"${key}","value":${json}}`);
    for (const until = Math.floor((bad * (i + 1)) / minutes.length); sent < until; sent++) {
      lines.splice((sent * 31) % (lines.length + 1), 0, broken.next().value as string);
    }
    const answer = await post(http, lines);
    // Senders repeat some records.
    counts.taken += answer.accepted + answer.repeated;
    counts.refused += answer.refused;
  }
  await live.end();
  await live.settled();
  await http.close();
  return { live, ...counts };
}

interface Answered {
  accepted: number;
  repeated: number;
  refused: number;
}

/** A minute's lines in requests of no more records than one may hold. */
async function post(http: HttpFeed, lines: readonly string[]): Promise<Answered> {
  const response = await fetch(`${http.url}/feed`, {
    method: "POST",
    headers: { authorization: `Bearer ${TOKEN}`, "content-type": "application/x-ndjson" },
    body: lines.join("\n"),
  });
  expect([200, 422]).toContain(response.status);
  return (await response.json()) as Answered;
}

function byMinute(arrivals: readonly Arrival[]): { atMs: number; arrivals: Arrival[] }[] {
  const minutes: { atMs: number; arrivals: Arrival[] }[] = [];
  for (const arrival of arrivals) {
    const last = minutes.at(-1);
    if (last === undefined || arrival.atMs - last.atMs >= MINUTE_MS) minutes.push({ atMs: arrival.atMs, arrivals: [arrival] });
    else last.arrivals.push(arrival);
  }
  return minutes;
}

describe("a hundred thousand malformed records among good ones, through the whole of it", () => {
  let good: Awaited<ReturnType<typeof run>>;
  let both: Awaited<ReturnType<typeof run>>;

  beforeAll(async () => {
    good = await run(0);
    both = await run(BAD);
  }, 240_000);
  afterAll(async () => {
    await good.live.close();
    await both.live.close();
  });

  it("stop nothing: every good record is taken and every bad one refused", () => {
    expect([good.taken, good.refused]).toEqual([feed.length, 0]);
    expect([both.taken, both.refused]).toEqual([feed.length, BAD]);
  });

  it("are all on `rejected`, each with its reason and what it said", () => {
    const rejected = both.live.texts("rejected").map((text) => JSON.parse(text) as { reason: string; raw: string });
    expect(rejected).toHaveLength(BAD);
    for (const { reason, raw } of rejected) if (!/^FEED-\d{3} /.test(reason) || raw === undefined) expect.fail(reason);
    expect(new Set(rejected.map(({ reason }) => reason)).size).toBeGreaterThan(10);
  });

  it("change no warning and no condition of a site", () => {
    const warnings = (live: LiveRun) => standing(live.texts("warnings").map((text) => JSON.parse(text) as Warning));
    expect(warnings(good.live).length).toBeGreaterThan(3);
    expect(warnings(both.live)).toEqual(warnings(good.live));
    const passes = (live: LiveRun) => new Set(live.texts("passes").filter((text) => text.startsWith('{"id"')));
    expect(passes(both.live)).toEqual(passes(good.live));
  });
});
