/** Lets go what is kept by `site/track` or `site/track/…` of a track, or of all of a site (`track` ""): what stands there next is new. */
export function forget(kept: Map<string, unknown>, site: string, track: string): void {
  const place = track === "" ? site : `${site}/${track}`;
  for (const key of kept.keys()) if (key === place || key.startsWith(`${place}/`)) kept.delete(key);
}
