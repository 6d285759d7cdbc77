import { fileURLToPath } from "node:url";
import { loadLine, readLine } from "../../src/line/line-file.ts";
import type { Railroad, Units } from "../../src/line/railroad.ts";
import { type FeedText, lineOf } from "../../src/simulate/feed-text.ts";
import { type SimulateOptions, simulate } from "../../src/simulate/simulate.ts";
import type { BearingTruth, PassTruth, TrainTruth, Truth } from "../../src/simulate/truth.ts";

export const replayData = fileURLToPath(new URL("../../replay-data/", import.meta.url));

/** The demonstration's railroad. */
export function demoRailroad(): Railroad {
  const { railroad, mistakes } = loadLine(`${replayData}line.yaml`);
  if (railroad === null) throw new Error(JSON.stringify(mistakes));
  return railroad;
}

/** A line of six sites on single and double track, all in the given units. */
export function shortLine(units: Units = { temperature: "F", reading: "above-ambient", gap: "in", speed: "mph" }): Railroad {
  const names = ["one", "two", "three", "four", "five", "six"];
  const sites = names.map((name, at) => {
    const tracks = at < 3 ? "[{ id: 1 }, { id: 2 }]" : "[{ id: 1 }]";
    return `  - { id: ${name}, name: ${name}, line: L, milepost: ${10 + at * 14}, tracks: ${tracks}, kind: main }`;
  });
  const pairs = ["[[1, 1], [2, 2]]", "[[1, 1], [2, 2]]", "[[1, 1], [2, 1]]", "[[1, 1]]", "[[1, 1]]"];
  const links = pairs.map((tracks, at) => {
    const place = `{ id: p${at}, name: P${at}, milepost: ${15 + at * 14}, miles: 5, tracks: [1], carLengths: 20 }`;
    return `  - { from: ${names[at]}, to: ${names[at + 1]}, miles: 14, tracks: ${tracks}, fastestMph: 60, setOuts: [${place}] }`;
  });
  const text = [
    "railroad: { id: short, name: Short, timeZone: America/Chicago, demonstration: true }",
    `units: { temperature: ${units.temperature}, reading: ${units.reading}, gap: ${units.gap}, speed: ${units.speed} }`,
    "sites:",
    ...sites,
    "links:",
    ...links,
    `corridors: [{ id: c, name: C, sites: [${names.join(", ")}] }]`,
  ].join("\n");
  const { railroad, mistakes } = readLine(text, "short.yaml");
  if (railroad === null) throw new Error(JSON.stringify(mistakes));
  return railroad;
}

export interface Run {
  texts: FeedText[];
  lines: string[];
  truths: Truth[];
  passes: PassTruth[];
  trains: TrainTruth[];
  bearings: BearingTruth[];
}

export function run(options: Omit<SimulateOptions, "tell">): Run {
  const truths: Truth[] = [];
  const texts = [...simulate({ ...options, tell: (truth) => truths.push(truth) })];
  return {
    texts,
    lines: texts.map(lineOf),
    truths,
    passes: truths.filter((truth) => truth.type === "pass"),
    trains: truths.filter((truth) => truth.type === "train"),
    bearings: truths.filter((truth) => truth.type === "bearing"),
  };
}

/** Columns of one pass as they were sent, put together again; null where a reading was not taken. */
export interface Sent {
  begunAtLine: number;
  endedAtLine: number;
  gap: (number | null)[];
  speed: number[];
  bearing: [(number | null)[], (number | null)[]];
  wheel: [(number | null)[], (number | null)[]] | null;
  axlesSaid: number | null;
  ambient: number;
}

/** Passes of a feed by `<site>/<track>/<pass>`; repeats are put in their place. */
export function sentPasses(texts: FeedText[]): Map<string, Sent> {
  const passes = new Map<string, Sent>();
  texts.forEach((text, at) => {
    if (text.topic !== "axle-readings" || text.spoilt === true) return;
    const record = JSON.parse(text.json);
    const key = `${record.site}/${record.track}/${record.pass}`;
    if (record.type === "pass-begun") {
      const empty = { gap: [], speed: [], wheel: null, axlesSaid: null } as const;
      passes.set(key, { ...empty, gap: [], speed: [], bearing: [[], []], begunAtLine: at, endedAtLine: at, ambient: record.ambient });
    }
    const sent = passes.get(key);
    if (sent === undefined) return;
    sent.endedAtLine = at;
    if (record.type === "pass-ended") sent.axlesSaid = record.axles;
    if (record.type !== "axles") return;
    if (record.left.wheel !== undefined) sent.wheel ??= [[], []];
    record.ms.forEach((_: number, i: number) => {
      const row = record.first - 1 + i;
      sent.gap[row] = record.gap[i];
      sent.speed[row] = record.speed[i];
      sent.bearing[0][row] = record.left.bearing[i];
      sent.bearing[1][row] = record.right.bearing[i];
      if (sent.wheel !== null && record.left.wheel !== undefined) {
        sent.wheel[0][row] = record.left.wheel[i];
        sent.wheel[1][row] = record.right.wheel[i];
      }
    });
  });
  return passes;
}
