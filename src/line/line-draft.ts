import type { z } from "zod";
import { type CorridorEntry, corridorSchema, type LinkEntry, linkSchema, type SiteEntry, siteSchema } from "./line-schema.ts";
import type { Direction } from "./railroad.ts";

/** One entry of a list of the line file: null where the schema already found a mistake in it. */
export type Entry<T> = { index: number; entry: T | null; raw: Record<string, unknown> };

/**
 * A line file that may still have mistakes: whatever entries are sound, so that references across the file are checked
 * and said in the same run as the mistakes inside its entries.
 */
export interface LineDraft {
  sites: Entry<SiteEntry>[];
  links: Entry<LinkEntry>[];
  corridors: Entry<CorridorEntry>[];
  /** Every id of a site, also of sites with mistakes: those are not unknown. */
  siteIds: Set<string>;
  /** Sound sites only, the first of each id. */
  siteById: Map<string, SiteEntry>;
}

/** What a check across the file found, before its place is looked up. */
export interface Finding {
  code: string;
  path: PropertyKey[];
  says: string;
  expected: string;
  advice: string;
}

/** Takes the plain values of a line file, whatever they are. */
export function draftOf(raw: unknown): LineDraft {
  const file = typeof raw === "object" && raw !== null ? (raw as Record<string, unknown>) : {};
  const sites = entriesOf(file["sites"], siteSchema);
  const siteIds = new Set<string>();
  const siteById = new Map<string, SiteEntry>();
  for (const { entry, raw: site } of sites) {
    if (typeof site["id"] === "string") siteIds.add(site["id"]);
    if (entry !== null && !siteById.has(entry.id)) siteById.set(entry.id, entry);
  }
  const links = entriesOf(file["links"], linkSchema);
  return { sites, links, corridors: entriesOf(file["corridors"], corridorSchema), siteIds, siteById };
}

/** Directions of a link, with the default: rising and rising between two sites of one line whose mileposts rise. null: must be said. */
export function directionsOf(link: LinkEntry, from: SiteEntry, to: SiteEntry): { leaves: Direction; arrives: Direction } | null {
  const plain = from.line === to.line && to.milepost > from.milepost;
  const leaves = link.leaves ?? (plain ? "rising" : null);
  const arrives = link.arrives ?? (plain ? "rising" : null);
  return leaves === null || arrives === null ? null : { leaves, arrives };
}

function entriesOf<T>(list: unknown, schema: z.ZodType<T>): Entry<T>[] {
  if (!Array.isArray(list)) return [];
  return list.map((raw: unknown, index) => {
    const entry = schema.safeParse(raw);
    const fields = typeof raw === "object" && raw !== null ? (raw as Record<string, unknown>) : {};
    return { index, entry: entry.success ? entry.data : null, raw: fields };
  });
}
