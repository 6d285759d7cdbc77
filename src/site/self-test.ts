import type { Heartbeat } from "../feed/record.ts";
import { accumulate, type Cusum, emptyCusum, evidenceOf } from "./cusum.ts";
import { forget } from "./forget.ts";
import type { WatchContext } from "./watch-context.ts";
import {
  DECISION_NATS,
  REFERENCE_SD_LEAST,
  REFERENCE_SDS,
  REFERENCE_USUALLY,
  REFERENCE_WHEN,
  REFERENCES_LEARNED,
  REFERENCES_WELL_AGAIN,
} from "./watch-numbers.ts";

/** What one self-test says: off, or well. */
const OFF_NATS = evidenceOf(true, REFERENCE_USUALLY, REFERENCE_WHEN);
const WELL_NATS = evidenceOf(false, REFERENCE_USUALLY, REFERENCE_WHEN);

interface Reference {
  learned: number[];
  mean: number;
  sd: number;
  sum: Cusum;
  wellInARow: number;
}

/** By `site/device`. */
export type SelfTestState = Record<string, Reference>;

/** Reference readings of the scanners' self-tests against what they usually are. The unit is the site's own: only the change counts. */
export class SelfTests {
  private readonly context: WatchContext;
  private readonly references = new Map<string, Reference>();
  /** The same by site, then by device: thousands of heartbeats an hour ask for them, and no key has to be put together. */
  private readonly bySite = new Map<string, Map<string, Reference>>();

  constructor(context: WatchContext) {
    this.context = context;
  }

  heartbeat(record: Heartbeat): void {
    if (record.scanners === undefined || !this.context.owned.has(record.site)) return;
    const atMs = Date.parse(record.time);
    const { site, scanners } = record;
    for (const device of Object.keys(scanners)) this.heard(site, device, scanners[device]!.reference ?? null, atMs);
  }

  private referenceOf(site: string, device: string): Reference {
    let devices = this.bySite.get(site);
    if (devices === undefined) {
      devices = new Map();
      this.bySite.set(site, devices);
    }
    let reference = devices.get(device);
    if (reference === undefined) {
      const key = `${site}/${device}`;
      reference = this.references.get(key) ?? { learned: [], mean: 0, sd: 0, sum: emptyCusum(), wellInARow: 0 };
      this.references.set(key, reference);
      devices.set(device, reference);
    }
    return reference;
  }

  private heard(site: string, device: string, value: number | null, atMs: number): void {
    const known = this.referenceOf(site, device);
    if (known.learned.length < REFERENCES_LEARNED) {
      if (value !== null) learn(known, value);
      return;
    }
    const isOff = value === null || Math.abs(value - known.mean) > REFERENCE_SDS * known.sd;
    known.wellInARow = isOff ? 0 : known.wellInARow + 1;
    const isWrong = accumulate(known.sum, isOff ? OFF_NATS : WELL_NATS, DECISION_NATS, atMs);
    if (known.wellInARow >= REFERENCES_WELL_AGAIN) {
      known.sum = emptyCusum();
      this.context.book.clear(site, device, "self-test", atMs, `its reference reads ${value} again`);
    } else if (isWrong && isOff) this.raise(site, device, known, value, atMs);
  }

  private raise(site: string, device: string, { mean, sum }: Reference, value: number | null, atMs: number): void {
    this.context.book.raise({
      site,
      device,
      kind: "self-test",
      atMs,
      words: `The self-test of ${this.context.said.device(site, device)} reads ${value ?? "nothing"} where it used to read ${mean.toFixed(0)}, again and again since ${this.context.said.time(sum.sinceMs ?? atMs)}.`,
      advice: "Have the scanner looked at: shutter, window, ice or dirt. A hot bearing may be missed there.",
      evidence: `reference ${value ?? "missing"} at ${this.context.said.time(atMs)}`,
    });
  }

  /** A device was proved or calibrated: its reference is learned anew. */
  proved(site: string, track: string): void {
    this.bySite.delete(site);
    for (const key of this.references.keys()) if (key.startsWith(`${site}/${track}/`)) this.references.delete(key);
  }

  /** A site, or a track of it, is not on the line any more. */
  gone(site: string, track: string): void {
    this.bySite.delete(site);
    forget(this.references, site, track);
  }

  state(): SelfTestState {
    return Object.fromEntries(this.references);
  }

  restore(state: SelfTestState): void {
    this.references.clear();
    this.bySite.clear();
    for (const [key, reference] of Object.entries(state)) this.references.set(key, structuredClone(reference));
  }
}

/** The middle of the first values and their middle deviation: one odd self-test does not set the standard. */
function learn(known: Reference, value: number): void {
  known.learned.push(value);
  if (known.learned.length < REFERENCES_LEARNED) return;
  const middle = (values: number[]) => values.sort((a, b) => a - b)[values.length >> 1]!;
  known.mean = middle([...known.learned]);
  known.sd = Math.max(REFERENCE_SD_LEAST, 1.4826 * middle(known.learned.map((one) => Math.abs(one - known.mean))));
}
