import type { Railroad } from "../line/railroad.ts";
import { type WallTime, wallClockOf } from "../line/wall-clock.ts";
import { deviceParts, partWords } from "./condition-words.ts";

const MONTHS = ["January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"];

/**
 * How sites, devices and times are told to people: by the name that the line file gives a site, by the clock on the railroad's
 * walls. What a program reads has ids and UTC.
 */
export class SiteWords {
  private readonly railroad: Railroad;
  private readonly wallTime: (ms: number) => WallTime;

  constructor(railroad: Railroad) {
    this.railroad = railroad;
    this.wallTime = wallClockOf(railroad.timeZone);
  }

  /** The site's name; its id where the line file does not have it. */
  site(id: string): string {
    return this.railroad.sites.get(id)?.name ?? id;
  }

  /** `track 1 of Alder`; a railroad with one track there says it all the same, so that nobody has to know. */
  track(site: string, track: string): string {
    return `${this.site(site)} track ${track}`;
  }

  /** "" the site, `1` a track, `1/left` a scanner of it, any other name a device of the whole site. */
  device(site: string, device: string): string {
    if (device === "") return this.site(site);
    const { track, part } = deviceParts(device, (name) => this.isTrack(site, name));
    if (part === "") return this.track(site, track);
    return `the ${inOneWords(part)} of ${track === "" ? this.site(site) : this.track(site, track)}`;
  }

  /** Several sites in a row: `Alder, Brock and Coldrill`. */
  sites(ids: readonly string[]): string {
    const names = ids.map((id) => this.site(id));
    return names.length < 2 ? names.join("") : `${names.slice(0, -1).join(", ")} and ${names.at(-1)}`;
  }

  /** `05:06 CST on 4 March`, to the minute. */
  time(ms: number): string {
    const { day, hour, minute, zoneName } = this.wallTime(ms);
    const [, month = "1", date = ""] = day.split("-");
    return `${hour}:${minute} ${zoneName} on ${Number(date)} ${MONTHS[Number(month) - 1]}`;
  }

  private isTrack(site: string, name: string): boolean {
    return this.railroad.sites.get(site)?.tracks.some(({ id }) => id === name) ?? false;
  }
}

/** Within a sentence: "left high detector" for "high detector, left". */
function inOneWords(part: string): string {
  return partWords(part).split(", ").reverse().join(" ");
}

/** What a site reports of a train, as people say it. */
export const REPORT_WORDS = {
  "hot-bearing": "a hot bearing",
  "hot-wheel": "a hot wheel",
  dragging: "dragging equipment",
  high: "a high load",
  wide: "a wide load",
  integrity: "a doubt about itself",
} as const;
