import { checkCorridors } from "./corridor-check.ts";
import { draftOf, type Finding, type LineDraft } from "./line-draft.ts";
import { linkOf, siteOf } from "./line-entry.ts";
import { type LineFile, lineSchema } from "./line-schema.ts";
import { checkLinks, checkSites } from "./link-check.ts";
import { compareMistakes, type Mistake, pathText } from "./mistake.ts";
import type { Corridor, Link, Railroad, Site } from "./railroad.ts";
import { type RailroadParts, railroadOf } from "./railroad-of.ts";
import { readTextFile } from "./text-file.ts";
import { readYaml } from "./yaml-source.ts";

/** A line file, read: the railroad and the contents that it was made of, or mistakes. `fromAt`: place of its date. */
export interface LineRead {
  railroad: Railroad | null;
  contents: LineFile | null;
  mistakes: Mistake[];
  fromAt: { line: number; column: number };
}

/**
 * Reads a line file: its YAML, its schema and every reference across it. Pure. Either the railroad or all mistakes at
 * once, in the order of reading; `file` is only named in the mistakes. The railroad's contents are not to be changed.
 */
export function readLine(text: string, file: string): LineRead {
  const source = readYaml(text, file, lineSchema);
  const draft = draftOf(source.raw);
  const mistakes = [...source.mistakes];
  for (const { code, path, says, expected, advice } of findingsOf(draft)) {
    mistakes.push({ code, file, ...source.at(path), path: pathText(path), says, expected, advice });
  }
  const fromAt = source.at(["from"]);
  const { value } = source;
  if (value === null || mistakes.length > 0) return { railroad: null, contents: null, mistakes: mistakes.sort(compareMistakes), fromAt };
  return { railroad: railroadOf(partsOfFile(value)), contents: value, mistakes, fromAt };
}

/** The railroad of a line file's contents as plain data, as they were announced; null where they have a mistake. */
export function railroadOfContents(contents: unknown): Railroad | null {
  const file = lineSchema.safeParse(contents);
  if (!file.success || findingsOf(draftOf(contents)).length > 0) return null;
  return railroadOf(partsOfFile(file.data));
}

/** Reads the line file at a path; a file that cannot be read is a mistake too, nothing is thrown. */
export function loadLine(path: string): LineRead {
  const { text, mistakes } = readTextFile(path);
  return text === null ? { railroad: null, contents: null, mistakes, fromAt: { line: 1, column: 1 } } : readLine(text, path);
}

function findingsOf(draft: LineDraft): Finding[] {
  return [...checkSites(draft), ...checkLinks(draft), ...checkCorridors(draft)];
}

function partsOfFile(file: LineFile): RailroadParts {
  const sites = new Map<string, Site>(file.sites.map((entry) => [entry.id, siteOf(entry, file.units)]));
  const entries = new Map(file.sites.map((entry) => [entry.id, entry]));
  const links: Link[] = file.links.map((entry) => linkOf(entry, entries));
  const corridors: Corridor[] = file.corridors.map(({ id, name, sites, leadIn }) => ({ id, name, sites, leadIn }));
  const fromMs = file.from === undefined ? Number.NEGATIVE_INFINITY : Date.parse(file.from);
  return { ...file.railroad, fromMs, sites, links, corridors };
}
