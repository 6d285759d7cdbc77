import type { Source } from "./agenda.ts";
import { COLD_TOLD_SHARE, DRAGGING_SHARE, HEARTBEAT_MINUTES } from "./assumptions.ts";
import type { FeedText } from "./feed-text.ts";
import type { Measured } from "./measure.ts";
import { type Random, stream } from "./random.ts";
import type { RecordTruth } from "./truth.ts";
import type { Wayside } from "./wayside.ts";

const MINUTE_MS = 60_000;

/** Heartbeats of one site, from the start to the end. */
export class Heartbeats implements Source<FeedText> {
  at: number;
  private dueMs: number;
  private readonly wayside: Wayside;
  private readonly endMs: number;
  private readonly random: Random;

  constructor(wayside: Wayside, seed: number, startMs: number, endMs: number) {
    this.wayside = wayside;
    this.endMs = endMs;
    this.random = stream(seed, "heartbeats", wayside.site.id);
    this.dueMs = startMs + this.random.between(0, HEARTBEAT_MINUTES) * MINUTE_MS;
    this.at = wayside.dueMs(this.dueMs);
  }

  step(out: FeedText[]): void {
    if (this.wayside.spell("dead", "", this.dueMs) === null) {
      out.push({ topic: "site-reports", key: this.wayside.site.id, json: this.heartbeat(), atMs: this.at });
    }
    this.dueMs += HEARTBEAT_MINUTES * MINUTE_MS;
    this.at = this.dueMs > this.endMs ? Number.POSITIVE_INFINITY : Math.max(this.at, this.wayside.dueMs(this.dueMs));
  }

  private heartbeat(): string {
    const { wayside, random } = this;
    const scanners: Record<string, { reference: number }> = {};
    for (const track of wayside.site.tracks) {
      for (const rail of ["left", "right"]) {
        const device = `${track.id}/${rail}`;
        // A scanner that sees next to nothing fails its own reference only now and then: not every fault shows here.
        const cold = wayside.spell("cold", device, this.dueMs) !== null && random.chance(COLD_TOLD_SHARE);
        scanners[device] = { reference: tenth((cold ? 96 : 150) + random.normal()) };
      }
    }
    const ambientF = wayside.ambientF(this.dueMs);
    const ambient = tenth(wayside.units.temperature === "C" ? ((ambientF - 32) * 5) / 9 : ambientF);
    const time = new Date(Math.round(wayside.clockMs(this.dueMs))).toISOString();
    return JSON.stringify({
      type: "heartbeat",
      site: wayside.site.id,
      time,
      ambient,
      supplyVolts: tenth(13.2 + 0.15 * random.normal()),
      scanners,
    });
  }
}

/** Records that arrive one after another at given times. */
export class Fixed implements Source<FeedText> {
  at: number;
  private readonly texts: FeedText[];
  private next = 0;

  constructor(texts: FeedText[]) {
    this.texts = texts;
    this.at = texts[0]?.atMs ?? Number.POSITIVE_INFINITY;
  }

  step(out: FeedText[]): void {
    out.push(this.texts[this.next] as FeedText);
    this.next++;
    this.at = this.texts[this.next]?.atMs ?? Number.POSITIVE_INFINITY;
  }
}

/** The site's own reports of a pass, just after its end. Values in the site's units, sides as rails. */
export function equipmentReports(
  wayside: Wayside,
  track: string,
  pass: string,
  measured: Measured,
  endMs: number,
  random: Random,
): FeedText[] {
  const site = wayside.site.id;
  const { units } = wayside;
  const inSiteUnits = (riseF: number): number => {
    const f = units.reading === "absolute" ? riseF + measured.ambientF : riseF;
    const shift = units.reading === "absolute" ? 32 : 0;
    return tenth(units.temperature === "C" ? ((f - shift) * 5) / 9 : f);
  };
  const atMs = wayside.dueMs(endMs + 2_000);
  const time = new Date(Math.round(wayside.clockMs(endMs + 1_000))).toISOString();
  const texts = measured.hot.map((hot): FeedText => {
    const side = hot.rail === 0 ? "left" : "right";
    const record = { type: "equipment", site, track, pass, time, kind: hot.kind, axle: hot.row + 1, side };
    const json = JSON.stringify({ ...record, value: inSiteUnits(hot.riseF), announced: hot.kind === "hot-bearing" });
    return { topic: "site-reports", key: site, json, atMs };
  });
  if (random.chance(DRAGGING_SHARE)) {
    const axle = random.whole(1, measured.rows);
    const json = JSON.stringify({
      type: "equipment",
      site,
      track,
      pass,
      time,
      kind: "dragging",
      axle,
      side: null,
      value: null,
      announced: true,
    });
    texts.push({ topic: "site-reports", key: site, json, atMs });
  }
  return texts;
}

/** A functional test of one track of a site, at a time when no train is near: begun, each device, ended. */
export function functionalTest(wayside: Wayside, track: string, atMs: number): FeedText[] {
  const site = wayside.site.id;
  const wheel = wayside.site.tracks.find((item) => item.id === track)?.wheel === true;
  const expects = [`${track}/left`, `${track}/right`, "dragging", "transducer-1", "transducer-2"];
  const moment = (minute: number): string => new Date(Math.round(wayside.clockMs(atMs + minute * MINUTE_MS))).toISOString();
  const pass = "test";
  const hot = (side: string, kind: string, minute: number): object => {
    return { type: "equipment", site, track, pass, time: moment(minute), kind, axle: 1, side, value: 210, announced: true };
  };
  const records: [number, object][] = [
    [0, { type: "functional-test", site, track, time: moment(0), phase: "begun", tester: "maintainer", expects }],
    [4, hot("left", "hot-bearing", 4)],
    [7, hot("right", "hot-bearing", 7)],
    ...(wheel
      ? ([
          [9, hot("left", "hot-wheel", 9)],
          [11, hot("right", "hot-wheel", 11)],
        ] as [number, object][])
      : []),
    [14, { type: "equipment", site, track, pass, time: moment(14), kind: "dragging", axle: 1, side: null, value: null, announced: true }],
    [20, { type: "functional-test", site, track, time: moment(20), phase: "ended", tester: "maintainer", expects }],
  ];
  return records.map(([minute, record]) => ({
    topic: "site-reports",
    key: site,
    json: JSON.stringify(record),
    atMs: wayside.dueMs(atMs + minute * MINUTE_MS),
  }));
}

/** Records that nobody can read, one after another at times drawn over the run. */
export function malformedRecords(
  waysides: Wayside[],
  count: number,
  startMs: number,
  endMs: number,
  random: Random,
  tell: (truth: RecordTruth) => void,
): FeedText[] {
  const times = Array.from({ length: count }, () => random.between(startMs, endMs)).sort((a, b) => a - b);
  return times.map((atMs) => {
    const wayside = random.pick(waysides);
    const track = random.pick(wayside.site.tracks).id;
    const { json, what, spoilt } = malformed(wayside.site.id, track, random);
    const key = `${wayside.site.id}/${track}`;
    tell({ type: "record", time: new Date(Math.round(atMs)).toISOString(), topic: "axle-readings", key, what });
    return { topic: "axle-readings", key, json, atMs, spoilt };
  });
}

function malformed(site: string, track: string, random: Random): { json: string; what: string; spoilt: boolean } {
  const axles = {
    type: "axles",
    site,
    track,
    pass: "9999",
    first: 1,
    ms: [0, 85],
    gap: [null, 70.1],
    left: { bearing: [31.5, 33] },
    right: { bearing: [30.1, 29.4] },
  };
  const whole = JSON.stringify(axles);
  switch (random.below(5)) {
    case 0:
      return { json: whole.slice(0, random.whole(20, whole.length - 5)), what: "cut off in the middle", spoilt: true };
    case 1:
      return { json: JSON.stringify({ ...axles, ms: [0] }), what: "columns of different length", spoilt: false };
    case 2:
      return { json: JSON.stringify({ ...axles, left: { bearing: [31.5, 99_999] } }), what: "a reading out of any range", spoilt: false };
    case 3:
      return { json: JSON.stringify({ ...axles, type: "axels" }), what: "an unknown type", spoilt: false };
    default:
      return { json: whole.replaceAll(",", ";"), what: "not JSON", spoilt: true };
  }
}

function tenth(value: number): number {
  return Math.round(value * 10) / 10;
}
