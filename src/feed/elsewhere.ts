import { AxlesHeaders, type Header } from "./axles-header.ts";

const NEWLINE = 10;

/** No whole line of readings is shorter, so one that is has no beginning that counts. */
const SHORTEST_LINE = 170;

/**
 * Readings of sites that nobody here listens to, for whoever shares a feed with others: told by how their lines begin. What
 * lies behind the beginning is not looked at; whoever listens to the site judges the line.
 */
export class Elsewhere {
  /** Whether such lines may be passed over at present. */
  isOn = true;
  private readonly headers = new AxlesHeaders();
  private readonly hears: (site: string) => boolean;

  constructor(hears: (site: string) => boolean) {
    this.hears = hears;
  }

  /** Where such a line ends, at its line break; -1 for any other line. `bytes` must end with a line break. */
  endOf(bytes: Buffer, from: number): number {
    if (!this.isOn) return -1;
    const header = this.headers.find(bytes, from);
    if (header === null || this.hears(header.site) || !isOfItsKey(header)) return -1;
    const end = bytes.indexOf(NEWLINE, from + header.bytes.length);
    return end - from < SHORTEST_LINE ? -1 : end;
  }

  /** The site that a line says it has readings of, by its beginning alone; null for any other line. */
  homeOf(bytes: Buffer, from: number, end: number): string | null {
    if (end - from < SHORTEST_LINE) return null;
    const header = this.headers.find(bytes, from);
    return header === null || !isOfItsKey(header) ? null : header.site;
  }
}

/** A refused line counts against the site of its key, so that must be the same one. */
function isOfItsKey({ key, site, track }: Header): boolean {
  return key.length === site.length + 1 + track.length && key.startsWith(site) && key.endsWith(track);
}
