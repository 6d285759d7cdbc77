import { edgeOf } from "../../src/feed/edge.ts";
import type { AxleReading, Axles, PassBegun, PassEnded } from "../../src/feed/record.ts";
import type { Site, Track } from "../../src/line/railroad.ts";
import { Assembly } from "../../src/pass/assemble.ts";
import type { Pass } from "../../src/pass/pass.ts";
import { buildTrain, normal, overSite, seeded } from "./train.ts";

export const START_MS = Date.parse("2026-03-04T05:06:07.000Z");
export const MINUTE_MS = 60_000;

export const track: Track = { id: "1", wheel: true };

export const site: Site = {
  id: "alder-14",
  name: "Alder",
  line: "main",
  milepost: 14,
  kind: "ordinary",
  tracks: [track],
  units: { temperature: "F", reading: "above-ambient", gap: "in", speed: "mph" },
};

export function siteWith(units: Partial<Site["units"]>): Site {
  return { ...site, units: { ...site.units, ...units } };
}

export function assembly(of: Site = site): Assembly {
  return new Assembly(of, track, edgeOf(of));
}

/** What one train sends over a site: begin, axles in groups, end. */
export interface Sent {
  begun: PassBegun;
  axles: Axles[];
  ended: PassEnded;
}

const head = { site: site.id, track: track.id };

/** A train of the generator as one whole record of axles, split by `inGroups`. Speeds about 45 mph; values on the grid of 0.01. */
export function sent(seed: number, pass = "0117", atMs = START_MS, cars = 12): Sent {
  const random = seeded(seed);
  const { gapInches, axles } = overSite(buildTrain(random, cars), { scale: 1, noiseInches: 1, missed: 0, doubled: 0 }, random);
  const gap = Array.from(gapInches, (value) => (Number.isNaN(value) ? null : Math.round(value * 10) / 10));
  const ms: number[] = [];
  let at = 0;
  for (const inches of gap) {
    at += Math.round((inches ?? 0) / 0.792);
    ms.push(at);
  }
  const tenths = (mean: number, sd: number) => gap.map(() => Math.round((mean + sd * normal(random)) * 10) / 10);
  return {
    begun: { type: "pass-begun", ...head, pass, time: new Date(atMs).toISOString(), direction: "rising", ambient: 54, train: "Q118" },
    axles: [
      {
        type: "axles",
        ...head,
        pass,
        first: 1,
        ms,
        gap,
        speed: tenths(45, 0.1),
        left: { bearing: tenths(31, 6), wheel: tenths(80, 10) },
        right: { bearing: tenths(30, 6), wheel: tenths(80, 10) },
        tag: gap.map((_, row) => (row === 9 ? "QX 100123" : null)),
      },
    ],
    ended: { type: "pass-ended", ...head, pass, time: new Date(atMs + at + 500).toISOString(), axles, integrity: [] },
  };
}

/** Rows [from, to) of a record of axles. */
export function rows(record: Axles, from: number, to: number): Axles {
  const part = <T>(column: T[]) => column.slice(from, to);
  const rail = (of: Axles["left"]) => ({ bearing: part(of.bearing), ...(of.wheel === undefined ? {} : { wheel: part(of.wheel) }) });
  return {
    ...record,
    first: record.first + from,
    ms: part(record.ms),
    gap: part(record.gap),
    ...(record.speed === undefined ? {} : { speed: part(record.speed) }),
    left: rail(record.left),
    right: rail(record.right),
    ...(record.tag === undefined ? {} : { tag: part(record.tag) }),
  };
}

/** The same axles in records of `size`. */
export function inGroups(of: Sent, size: number | (() => number)): Sent {
  const whole = of.axles[0]!;
  const axles: Axles[] = [];
  for (let from = 0; from < whole.ms.length; ) {
    const to = Math.min(whole.ms.length, from + (typeof size === "number" ? size : size()));
    axles.push(rows(whole, from, to));
    from = to;
  }
  return { ...of, axles };
}

export function inOrder(of: Sent): AxleReading[] {
  return [of.begun, ...of.axles, of.ended];
}

/** Feeds records, then lets event time run on until everything is closed. */
export function fold(records: AxleReading[], to: Assembly = assembly(), untilMs = START_MS + 400 * MINUTE_MS): Pass[] {
  const out: Pass[] = [];
  for (const record of records) to.step(record, out);
  to.tick(untilMs - 200 * MINUTE_MS, out);
  to.tick(untilMs, out);
  return out;
}
