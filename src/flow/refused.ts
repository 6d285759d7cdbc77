import type { Rejected } from "../feed/record.ts";

/** That a record of a site could not be read or used, for the corridors that watch over the site. */
export interface Refused {
  type: "refused";
  site: string;
  reason: string;
  time: string;
}

const SITE_IN_RAW = /"site"\s*:\s*"([A-Za-z0-9._-]{1,64})"/;

/**
 * The site that a rejected record came from: by its key (`<site>` or `<site>/<track>`), else by what can be read of it. null:
 * no site of the line.
 */
export function siteOfRejected(rejected: Rejected, key: string | null, sites: ReadonlyMap<string, unknown>): string | null {
  const named = key?.split("/", 1)[0] ?? "";
  if (sites.has(named)) return named;
  const found = SITE_IN_RAW.exec(rejected.raw)?.[1] ?? "";
  return sites.has(found) ? found : null;
}
