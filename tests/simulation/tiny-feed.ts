import { readLine } from "../../src/line/line-file.ts";
import type { Railroad } from "../../src/line/railroad.ts";

/** A railroad small enough that a day of it runs in milliseconds: four sites in two corridors, the second's first site led in. */
export function tinyRailroad(): Railroad {
  const names = ["ash-1", "birch-2", "cedar-3", "elder-4"];
  const sites = names.map(
    (id, at) => `  - { id: ${id}, name: ${id}, line: L, milepost: ${10 + at * 12}, tracks: [{ id: 1 }], kind: main }`,
  );
  const links = [0, 1, 2].map(
    (at) =>
      `  - { from: ${names[at]}, to: ${names[at + 1]}, miles: 12, tracks: [[1, 1]], fastestMph: 60, setOuts: [{ id: p${at}, name: P${at}, milepost: ${15 + at * 12}, miles: 5, tracks: [1], carLengths: 20 }] }`,
  );
  const text = [
    "railroad: { id: tiny, name: Tiny, timeZone: America/Chicago, demonstration: true }",
    "units: { temperature: F, reading: above-ambient, gap: in, speed: mph }",
    "sites:",
    ...sites,
    "links:",
    ...links,
    "corridors:",
    "  - { id: west, name: West, sites: [ash-1, birch-2], leadIn: [cedar-3] }",
    "  - { id: east, name: East, sites: [cedar-3, elder-4], leadIn: [birch-2] }",
  ].join("\n");
  const { railroad, mistakes } = readLine(text, "tiny.yaml");
  if (railroad === null) throw new Error(JSON.stringify(mistakes));
  return railroad;
}

export interface Sent {
  topic: string;
  key: string;
  value: string;
  atMs: number;
}

export const START_MS = Date.parse("2026-03-04T06:00:00.000Z");
const MINUTE_MS = 60_000;
/** 12 miles at some 40 mph. */
const BETWEEN_MS = 18 * MINUTE_MS;
const SITES = ["ash-1", "birch-2", "cedar-3", "elder-4"];
/** Some 40 mph. */
const MS_AN_INCH = 1.4;
/** Inches within a truck, between trucks and between cars: six cars of four axles. */
const CAR_GAPS = [70, 420, 70, 90];

/**
 * Three trains over four sites. One bearing of the second grows hot from site to site; a site repeats a record, one record
 * is cut short, a pass has no end, a roster comes late, somebody acknowledges.
 */
export function tinyFeed(): Sent[] {
  const feed: Sent[] = [];
  for (let train = 0; train < 3; train++) {
    SITES.forEach((site, at) => {
      feed.push(...passOf(site, train, START_MS + train * 25 * MINUTE_MS + at * BETWEEN_MS, train === 1 ? HOT_F[at]! : null));
    });
  }
  for (const site of SITES) {
    for (let at = 0; at < 5; at++) {
      const atMs = START_MS + at * 30 * MINUTE_MS;
      feed.push({
        topic: "site-reports",
        key: site,
        value: JSON.stringify({ type: "heartbeat", site, time: iso(atMs), ambient: 54 }),
        atMs,
      });
    }
  }
  feed.push({ topic: "axle-readings", key: "ash-1/1", value: '{"type":"axles","site":"ash-1"', atMs: START_MS + MINUTE_MS });
  const vehicles = Array.from({ length: 6 }, (_, i) => ({ id: `QX ${100 + i}`, kind: "car", axles: 4 }));
  const consistMs = START_MS + 50 * MINUTE_MS;
  const consist = { type: "consist", train: "T1", time: iso(consistMs), key: true, vehicles };
  feed.push({ topic: "consists", key: "T1", value: JSON.stringify(consist), atMs: consistMs });
  const actionMs = START_MS + 80 * MINUTE_MS;
  const action = { type: "desk-action", id: "a1", time: iso(actionMs), by: "desk", action: "note", site: "birch-2", text: "looked at" };
  feed.push({ topic: "desk-actions", key: "birch-2", value: JSON.stringify(action), atMs: actionMs });
  return feed.sort((a, b) => a.atMs - b.atMs);
}

/** °F above ambient of the bearing that grows hot, site by site. */
const HOT_F = [42, 78, 121, 176];
const HOT_ROW = 10;

function passOf(site: string, train: number, begunMs: number, hotF: number | null): Sent[] {
  const key = `${site}/1`;
  const pass = String(100 + train);
  const place = { site, track: "1", pass };
  const gaps = Array.from({ length: 24 }, (_, row) => (row === 0 ? null : CAR_GAPS[(row + 3) % 4]! + train * 3));
  const ms: number[] = [];
  for (const gap of gaps) ms.push((ms.at(-1) ?? 0) + (gap ?? 0) * MS_AN_INCH);
  const rise = (side: number) =>
    gaps.map((_, row) => (side === 1 && row === HOT_ROW && hotF !== null ? hotF : 26 + ((row * 7 + side * 3 + train) % 9)));
  const columns = (from: number, to: number) => ({
    ...{ type: "axles", ...place, first: from + 1, ms: ms.slice(from, to), gap: gaps.slice(from, to) },
    left: { bearing: rise(0).slice(from, to) },
    right: { bearing: rise(1).slice(from, to) },
  });
  const endedMs = begunMs + Math.round(ms.at(-1)!);
  const records: [object, number][] = [
    [{ type: "pass-begun", ...place, time: iso(begunMs), direction: "rising", ambient: 54, train: `T${train}` }, begunMs],
    [columns(0, 12), begunMs + 9_000],
    [columns(12, 24), begunMs + 18_000],
  ];
  const endless = train === 2 && site === "elder-4";
  if (!endless) records.push([{ type: "pass-ended", ...place, time: iso(endedMs), axles: 24, integrity: [] }, endedMs]);
  if (train === 0 && site === "birch-2") records.push([columns(0, 12), endedMs + 1_000]);
  return records.map(([value, atMs]) => ({ topic: "axle-readings", key, value: JSON.stringify(value), atMs }));
}

function iso(ms: number): string {
  return new Date(ms).toISOString();
}
