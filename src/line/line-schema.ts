import { z } from "zod";

/** Limits of a line file, all assumptions: far above any real railroad's district, and low enough to stay quick. */
export const MAX_SITES = 2_000;
export const MAX_LINKS = 6_000;
export const MAX_CORRIDORS = 200;
const MAX_TRACKS = 8;
const MAX_SET_OUTS = 32;
const MAX_LEAD_IN = 32;
const MAX_NAME = 80;
const MAX_MILEPOST = 10_000;
/** Common practice is 10 to 40 miles between sites; a branch without sites can be long. */
const MAX_LINK_MILES = 500;
const MIN_LINK_MILES = 0.1;
const MAX_MPH = 250;
const MIN_MPH = 5;
const MAX_CAR_LENGTHS = 500;

const id = z.string().regex(/^[A-Za-z0-9._-]{1,64}$/, "an id: 1 to 64 of A-Z a-z 0-9 . _ -");
const name = z.string().trim().min(1).max(MAX_NAME);
/** People write `id: 1` for track 1; YAML then reads a number. */
const trackId = z.union([id, z.int().min(0).max(999).transform(String)]);
const direction = z.enum(["rising", "falling"]);
const milepost = z.number().min(0).max(MAX_MILEPOST);

export const unitsSchema = z.strictObject({
  temperature: z.enum(["F", "C"]),
  reading: z.enum(["above-ambient", "absolute"]),
  gap: z.enum(["in", "ft", "mm", "cm"]),
  speed: z.enum(["mph", "km/h"]),
});

export const siteSchema = z.strictObject({
  id,
  name,
  line: name,
  milepost,
  tracks: z
    .array(z.strictObject({ id: trackId, wheel: z.boolean().default(true) }))
    .min(1)
    .max(MAX_TRACKS),
  kind: id,
  /** Only what differs from the units of the file. */
  units: unitsSchema.partial().optional(),
});

export const setOutSchema = z.strictObject({
  id,
  name,
  milepost,
  miles: z.number().positive().max(MAX_LINK_MILES),
  tracks: z.array(trackId).min(1).max(MAX_TRACKS),
  trains: z.enum(["forward", "backward", "both"]).default("both"),
  carLengths: z.int().min(1).max(MAX_CAR_LENGTHS),
});

export const linkSchema = z.strictObject({
  from: id,
  to: id,
  miles: z.number().min(MIN_LINK_MILES).max(MAX_LINK_MILES),
  tracks: z
    .array(z.tuple([trackId, trackId]))
    .min(1)
    .max(MAX_TRACKS * MAX_TRACKS),
  fastestMph: z.number().min(MIN_MPH).max(MAX_MPH),
  leaves: direction.optional(),
  arrives: direction.optional(),
  setOuts: z.array(setOutSchema).max(MAX_SET_OUTS).default([]),
});

export const corridorSchema = z.strictObject({
  id,
  name,
  sites: z.array(id).min(1).max(MAX_SITES),
  leadIn: z.array(id).max(MAX_LEAD_IN).default([]),
});

const timeZone = z.string().refine(isTimeZone, {
  error: "timeZone is not a known time zone",
  params: {
    code: "bad-time-zone",
    expected: "an IANA time zone, such as America/Chicago",
    advice: "Check the spelling; an offset is no zone.",
  },
});

/** The line file as people write it: one railroad, distances by link. */
export const lineSchema = z.strictObject({
  /** From when on the railroad is like this; left out: always was. Each dated file holds the whole railroad. */
  from: z.iso.datetime({ error: "a UTC time like 2026-03-04T05:06:07Z" }).optional(),
  railroad: z.strictObject({ id, name, timeZone, demonstration: z.boolean().default(false) }),
  units: unitsSchema,
  sites: z.array(siteSchema).min(1).max(MAX_SITES),
  links: z.array(linkSchema).max(MAX_LINKS).default([]),
  corridors: z.array(corridorSchema).min(1).max(MAX_CORRIDORS),
});

export type LineFile = z.infer<typeof lineSchema>;
export type SiteEntry = z.infer<typeof siteSchema>;
export type LinkEntry = z.infer<typeof linkSchema>;
export type CorridorEntry = z.infer<typeof corridorSchema>;

function isTimeZone(zone: string): boolean {
  // Offsets such as +05:00 are accepted by Intl but are no zones: they know no daylight saving.
  if (!/^[A-Za-z][A-Za-z0-9_+/-]{1,63}$/.test(zone)) return false;
  try {
    new Intl.DateTimeFormat("en", { timeZone: zone });
    return true;
  } catch {
    return false;
  }
}
