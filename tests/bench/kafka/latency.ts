import { mkdtempSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { setTimeout as sleep } from "node:timers/promises";
import { readLine } from "../../../src/line/line-file.ts";
import type { NewRecord } from "../../../src/log/log.ts";
import { inventLine, USUAL_MILES } from "../../../src/simulate/invent-line.ts";
import { Random } from "../../../src/simulate/random.ts";
import type { BenchFigure } from "../figure.ts";
import { BenchBed } from "./bench-bed.ts";

/** Axles of a train, in records of 32; every fifth train has one bearing far over every limit, so that its pass leads to a warning. */
const AXLES = 192;
const GROUP = 32;
/** Some 45 mph. */
const MS_AN_AXLE = 85;
const HOT_F = 260;
const HOT_EVERY = 5;
/** An invented line long enough that the trains of a second can be on it: a train takes 16 s over a site. */
const SITES = 400;
const SEED = 1;
const LINE = join(mkdtempSync(join(tmpdir(), "kafka-bench-line-")), "line.yaml");
const LINE_TEXT = inventLine({ seed: SEED, sites: SITES, ...USUAL_MILES, doubleShare: 1 });
const WARM_UP_MS = 8_000;
const MEASURE_MS = 20_000;
const RESTART_RATE = 3_000;
const RESTART_PATIENCE_MS = 60_000;

/**
 * A live feed at a steady rate through one process with both stages: from the last record of a pass acknowledged to its
 * warning readable by a read-committed reader; and after a restart, from the signal to the first new output.
 */
export async function latencyAndRestarts(brokers: readonly string[]): Promise<BenchFigure[]> {
  const figures: BenchFigure[] = [];
  writeLine();
  for (const rate of [300, 3_000]) figures.push(...(await latency(brokers, rate)));
  figures.push(await restart(brokers, "SIGTERM", 3), await restart(brokers, "SIGKILL", 8));
  return figures;
}

async function latency(brokers: readonly string[], rate: number): Promise<BenchFigure[]> {
  const bed = await BenchBed.make(brokers, LINE, "arrival");
  try {
    const sent = new Map<string, number>();
    const ours: number[] = [];
    const hop: number[] = [];
    const fromMs = performance.now() + WARM_UP_MS;
    bed.start();
    const extent = await bed.log.extent("warnings");
    const tail = await bed.log.tail(
      extent.map(({ partition }) => ({ topic: "warnings", partition, offset: 0 })),
      {
        records: async ({ records }) => {
          const nowMs = performance.now();
          for (const { value } of records) {
            // `<site>/<track>/<pass>@<begun>`
            const key = (JSON.parse(Buffer.from(value).toString()) as { pass: string }).pass.split("@")[0]!;
            const atMs = sent.get(key);
            if (atMs === undefined) continue;
            sent.delete(key);
            if (atMs > fromMs) ours.push(nowMs - atMs);
          }
        },
      },
    );
    // The yardstick: one hop, a record acknowledged and read by a plain reader of the same kind.
    const echo = new Map<string, number>();
    const ends = await bed.log.extent("desk-actions");
    const echoTail = await bed.log.tail(
      ends.map(({ partition, end }) => ({ topic: "desk-actions", partition, offset: end })),
      {
        records: async ({ records }) => {
          for (const { value } of records) {
            const atMs = echo.get(Buffer.from(value).toString());
            if (atMs !== undefined) hop.push(performance.now() - atMs);
          }
        },
      },
    );
    await feed(
      bed,
      rate,
      WARM_UP_MS + MEASURE_MS,
      (pass, atMs) => sent.set(pass, atMs),
      async (n) => {
        const value = `"echo ${n}"`;
        await bed.log.append([{ topic: "desk-actions", key: "echo", value }]);
        echo.set(value, performance.now());
      },
    );
    await sleep(2_000);
    await Promise.all([tail.close(), echoTail.close()]);
    const { residentMb } = bed.usage();
    const note = `${ours.length} warnings, resident ${Math.round(residentMb)} MB; against one hop through Kafka, acknowledged to read`;
    return [0.5, 0.99].map((share) => ({
      name: `Kafka, warning latency at ${rate} axles/s, p${share * 100}`,
      ours: quantile(ours, share),
      base: quantile(hop, share),
      ratio: quantile(ours, share) / quantile(hop, share),
      unit: "ms",
      note,
    }));
  } finally {
    await bed.close();
  }
}

async function restart(brokers: readonly string[], signal: "SIGTERM" | "SIGKILL", goalSeconds: number): Promise<BenchFigure> {
  const bed = await BenchBed.make(brokers, LINE, "arrival");
  try {
    bed.start();
    const feeding = new AbortController();
    const fed = feed(
      bed,
      RESTART_RATE,
      RESTART_PATIENCE_MS,
      () => {},
      async () => {},
      feeding.signal,
    );
    await sleep(WARM_UP_MS * 2);
    const first = Promise.withResolvers<number>();
    let afterMs = Number.POSITIVE_INFINITY;
    const extent = await bed.log.extent("passes");
    const tail = await bed.log.tail(
      extent.map(({ partition, end }) => ({ topic: "passes", partition, offset: end })),
      {
        records: async ({ records }) => {
          if (records.some(({ arrivedMs }) => arrivedMs >= afterMs)) first.resolve(performance.now());
        },
      },
    );
    await sleep(1_000);
    const fromMs = performance.now();
    bed.signal(signal);
    await bed.ended();
    // What the old process still committed while it ended is not new.
    afterMs = Date.now();
    bed.start();
    const seconds = ((await first.promise) - fromMs) / 1_000;
    feeding.abort();
    await fed;
    await tail.close();
    const name = signal === "SIGTERM" ? "SIGTERM" : "kill -9";
    return {
      name: `Kafka, ${name} to the first new output, ${RESTART_RATE} axles/s`,
      ours: seconds,
      base: goalSeconds,
      ratio: seconds / goalSeconds,
      unit: "s",
      note: "against what is wanted at most",
    };
  } finally {
    await bed.close();
  }
}

/** The line that trains are sent over. */
export function writeLine(): string {
  writeFileSync(LINE, LINE_TEXT);
  return LINE;
}

/** Trains one after the other over all sites, as many axles a second as asked for. */
export async function feed(
  bed: BenchBed,
  rate: number,
  ms: number,
  ended: (pass: string, atMs: number) => void,
  each: (n: number) => Promise<void>,
  signal?: AbortSignal,
): Promise<void> {
  const { railroad } = readLine(LINE_TEXT, LINE);
  const places = [...railroad!.sites.values()].flatMap((site) => [...site.tracks].map((track) => ({ site: site.id, track: track.id })));
  const beganMs = performance.now();
  for (let n = 0; performance.now() - beganMs < ms && signal?.aborted !== true; n++) {
    const { site, track } = places[n % places.length]!;
    const pass = String(10_000 + n);
    const isHot = n % HOT_EVERY === 0;
    const records = passOf(site, track, pass, n, isHot);
    for (const [at, record] of records.entries()) {
      const dueMs = beganMs + ((n * AXLES + (at / records.length) * AXLES) / rate) * 1_000;
      const waitMs = dueMs - performance.now();
      if (waitMs > 1) await sleep(waitMs);
      // Only the last one is waited for: the others are on their way with it.
      const appended = bed.log.append([record]);
      if (isHot && at === records.length - 1) void appended.then(() => ended(`${site}/${track}/${pass}`, performance.now()));
    }
    void each(n);
  }
}

function passOf(site: string, track: string, pass: string, n: number, isHot: boolean): NewRecord[] {
  const key = `${site}/${track}`;
  const endedMs = Date.now();
  const random = new Random(SEED, `train ${n}`);
  // Cars of many lengths: two trains alike are rare.
  const cars = Array.from({ length: AXLES / 4 }, () => 250 + random.below(400));
  const place = { site, track, pass };
  const record = (value: object): NewRecord => ({ topic: "axle-readings", key, value: JSON.stringify(value) });
  const records = [
    record({
      type: "pass-begun",
      ...place,
      time: new Date(endedMs - AXLES * MS_AN_AXLE).toISOString(),
      direction: "rising",
      ambient: 54,
      train: `B${n}`,
    }),
  ];
  for (let from = 0; from < AXLES; from += GROUP) {
    const axles = Array.from({ length: GROUP }, (_, at) => from + at);
    const rise = (side: number) =>
      axles.map((axle) => (isHot && side === 0 && axle === n % AXLES ? HOT_F : 25 + ((axle * 7 + side * 3 + n) % 9)));
    records.push(
      record({
        type: "axles",
        ...place,
        first: from + 1,
        ms: axles.map((axle) => axle * MS_AN_AXLE),
        gap: axles.map((axle) => (axle === 0 ? null : [70, cars[axle >> 2]!, 70, 90][(axle + 3) % 4]!)),
        left: { bearing: rise(0) },
        right: { bearing: rise(1) },
      }),
    );
  }
  records.push(record({ type: "pass-ended", ...place, time: new Date(endedMs).toISOString(), axles: AXLES, integrity: [] }));
  return records;
}

function quantile(values: number[], share: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? Number.NaN;
}
