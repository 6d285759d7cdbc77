import { readFileSync } from "node:fs";
import { parse } from "yaml";
import { railroadOfContents } from "../../src/line/line-file.ts";
import type { Railroad, Units } from "../../src/line/railroad.ts";
import type { Arrival } from "./folded.ts";

/** The contents of a line file, as far as the tests change them. */
export interface LineContents {
  from?: string;
  sites: { id: string; name: string; milepost: number; tracks: { id: number | string; wheel?: boolean }[]; units?: Partial<Units> }[];
  links: { from: string; to: string; miles: number; tracks: [unknown, unknown][]; setOuts?: object[]; fastestMph: number }[];
  corridors: { id: string; sites: string[]; leadIn?: string[] }[];
}

/** The demonstration's line file with some of it changed; `fromMs`: from when on, else it always was so. */
export function changedContents(change: (file: LineContents) => void, fromMs: number | null = null): LineContents {
  const file = parse(readFileSync("replay-data/line.yaml", "utf8")) as LineContents;
  change(file);
  if (fromMs !== null) file.from = new Date(fromMs).toISOString();
  return file;
}

export function railroadOf(contents: LineContents): Railroad {
  const railroad = railroadOfContents(contents);
  if (railroad === null) throw new Error("the changed line file has mistakes");
  return railroad;
}

/** The announcement of a state, as it stands in the log. */
export function announcement(contents: LineContents, atMs: number): string {
  return JSON.stringify({ type: "line", time: new Date(atMs).toISOString(), line: contents });
}

/** The announcement as one arrival of a feed. */
export function announced(contents: LineContents, atMs: number): Arrival {
  return { topic: "site-reports", key: "", json: announcement(contents, atMs), atMs };
}

/** Takes a site between two others away: trains run from the one to the other. */
export function withoutColdrill(file: LineContents): void {
  file.sites = file.sites.filter(({ id }) => id !== "coldrill-44");
  const before = file.links.find(({ to }) => to === "coldrill-44")!;
  const after = file.links.find(({ from }) => from === "coldrill-44")!;
  file.links = file.links.filter((link) => link !== before && link !== after);
  const tracks: [unknown, unknown][] = [
    [1, 1],
    [2, 2],
    [1, 2],
    [2, 1],
  ];
  file.links.push({ ...before, to: after.to, miles: before.miles + after.miles, tracks });
  for (const corridor of file.corridors) {
    corridor.sites = corridor.sites.filter((id) => id !== "coldrill-44");
    corridor.leadIn = corridor.leadIn?.filter((id) => id !== "coldrill-44") ?? [];
  }
}

/** A line of so many corridors, of eight sites each, that no commit could hand it on to all of them. */
export function manyCorridors(count: number, fromMs: number | null = null): LineContents {
  const file = changedContents(() => {}, fromMs);
  const [first] = file.sites as [LineContents["sites"][number]];
  const [corridor] = file.corridors as [LineContents["corridors"][number]];
  const idOf = (at: number) => `site-${at}`;
  const ofCorridor = (at: number) => Array.from({ length: 8 }, (_, i) => 8 * at + i);
  const all = Array.from({ length: count }, (_, at) => at);
  file.sites = all.flatMap(ofCorridor).map((at) => ({ ...first, id: idOf(at), name: `Site ${at}, ${"far out ".repeat(8)}`, milepost: at }));
  const [link] = file.links as [LineContents["links"][number]];
  file.links = all.flatMap((at) =>
    ofCorridor(at)
      .slice(1)
      .map((to) => ({ ...link, from: idOf(to - 1), to: idOf(to), miles: 1, setOuts: [] })),
  );
  file.corridors = all.map((at) => ({ ...corridor, id: `corridor-${at}`, sites: ofCorridor(at).map(idOf), leadIn: [] }));
  // Without objects in common, which YAML would write as aliases.
  return JSON.parse(JSON.stringify(file)) as LineContents;
}
