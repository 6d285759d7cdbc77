import * as z from "zod";
import {
  AMBIENT_HIGH,
  AMBIENT_LOW,
  DEVICES_A_SITE,
  ID_CHARS,
  MADE_ID_CHARS,
  TEMPERATURE_HIGH,
  TEMPERATURE_LOW,
  TEXT_CHARS,
} from "./limits.ts";

/** Building blocks of every record: the kinds of field the contract knows. */

const ID = `[A-Za-z0-9._-]{1,${ID_CHARS}}`;

const ID_PATTERN = `^${ID}$`;
const SPACED_ID_PATTERN = `^[A-Za-z0-9._-](?:[A-Za-z0-9._ -]{0,${ID_CHARS - 2}}[A-Za-z0-9._-])?$`;
const DEVICE_PATTERN = `^${ID}(?:/${ID})?$`;
const MADE_ID_PATTERN = `^[!-~]{1,${MADE_ID_CHARS}}$`;
const TEXT_PATTERN = "^[^\\u0000-\\u0009\\u000b-\\u001f\\u007f]*$";
const PERSON_PATTERN = `^[^\\u0000-\\u001f\\u007f]{1,${ID_CHARS}}$`;

export const id = z.string().regex(new RegExp(ID_PATTERN));

/** A vehicle's reporting mark and number, a train or a tag: an id that may hold inner spaces. */
export const spacedId = z.string().regex(new RegExp(SPACED_ID_PATTERN));

/** A site's device: `dragging`, `transducer-1`, or of one track: `1/left`. */
export const device = z.string().regex(new RegExp(DEVICE_PATTERN));

/** An id put together by the processor from a site's ids: `<site>/<track>/<pass>@<time>/...`. */
export const madeId = z.string().regex(new RegExp(MADE_ID_PATTERN));

/** What a person wrote: any text without control characters but line breaks. */
export const text = z.string().max(TEXT_CHARS).regex(new RegExp(TEXT_PATTERN));

/** A role or a user name. */
export const person = z.string().regex(new RegExp(PERSON_PATTERN));

const LEAP = "(?:(?:19(?:7[26]|8[048]|9[26])|2000|20(?:0[48]|[2468][048]|[13579][26])|21(?:0[48]|[2468][048]|[13579][26]))-02-29)";
const DAY = `(?:(?:19[7-9]\\d|2[01]\\d\\d)-(?:(?:0[13578]|1[02])-(?:0[1-9]|[12]\\d|3[01])|(?:0[469]|11)-(?:0[1-9]|[12]\\d|30)|02-(?:0[1-9]|1\\d|2[0-8]))|${LEAP})`;

const TIME_PATTERN = `^${DAY}T(?:[01]\\d|2[0-3]):[0-5]\\d:[0-5]\\d(?:\\.\\d{1,9})?Z$`;

/** RFC 3339 in UTC, 1970 to 2199, real days only, up to nanoseconds. A wrong clock inside that range is for the site's conditions to say. */
export const time = z.string().regex(new RegExp(TIME_PATTERN));

/** A temperature in the site's own unit. */
export const temperature = z.number().gte(TEMPERATURE_LOW).lte(TEMPERATURE_HIGH);
export const ambient = z.number().gte(AMBIENT_LOW).lte(AMBIENT_HIGH);

/** A column of readings, one an axle; null = not measured. The length is checked before the elements. */
export function column<T extends z.ZodType>(element: T, most: number) {
  return z.array(element).min(1).max(most);
}

export const devices = z.array(device).max(DEVICES_A_SITE);

/** What a string should have looked like, from the pattern that refused it. */
export function formatOf(pattern: string): string {
  return FORMATS.get(pattern) ?? "another form";
}

const FORMATS: ReadonlyMap<string, string> = new Map(
  [
    [ID_PATTERN, "1 to 64 characters of A-Z a-z 0-9 . _ -"],
    [SPACED_ID_PATTERN, "1 to 64 characters of A-Z a-z 0-9 . _ - with inner spaces"],
    [DEVICE_PATTERN, "a device, e.g. dragging or 1/left"],
    [MADE_ID_PATTERN, "1 to 256 printable characters without spaces"],
    [TEXT_PATTERN, "text"],
    [PERSON_PATTERN, "text"],
    [TIME_PATTERN, "time"],
  ].map(([pattern, words]) => [String(new RegExp(pattern!)), words!]),
);

/** True only for types that are the same in both directions: keeps a schema and its contract type from drifting apart. */
export type Same<A, B> = (<T>() => T extends A ? 1 : 2) extends <T>() => T extends B ? 1 : 2 ? true : Mutual<A, B>;
type Mutual<A, B> = [A] extends [B] ? ([B] extends [A] ? true : false) : false;
