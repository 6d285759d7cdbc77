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
