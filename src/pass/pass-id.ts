/** `<site>/<track>/<pass>@<begun as compact UTC>`, e.g. `alder-14/1/0117@20260304T050607000Z`: unique for ever. */
export function passId(site: string, track: string, pass: string, begunMs: number): string {
  return `${site}/${track}/${pass}@${new Date(begunMs).toISOString().replace(/[-:.]/g, "")}`;
}
