import { readLine } from "../../src/line/line-file.ts";
import { opposite, type Railroad, type Units } from "../../src/line/railroad.ts";
import type { Arrival } from "./folded.ts";

/** The line file of a railroad, written anew from what was read of it, with some of it changed. */
function rewritten(railroad: Railroad, change: (file: LineFile) => void): Railroad {
  const file: LineFile = {
    railroad: { id: railroad.id, name: railroad.name, timeZone: railroad.timeZone, demonstration: railroad.demonstration },
    units: { temperature: "F", reading: "above-ambient", gap: "in", speed: "mph" },
    sites: [...railroad.sites.values()].map((site) => ({ ...site, units: { ...site.units } })),
    links: railroad.links.map(({ setOuts, ...link }) => ({
      ...link,
      setOuts: setOuts.map(({ forward, backward, ...place }) => ({
        ...place,
        trains: forward && backward ? "both" : forward ? "forward" : "backward",
      })),
    })),
    corridors: railroad.corridors,
  };
  change(file);
  const { railroad: read, mistakes } = readLine(JSON.stringify(file), "rewritten.yaml");
  if (read === null) throw new Error(JSON.stringify(mistakes, null, 2));
  return read;
}

interface LineFile {
  railroad: object;
  units: Units;
  sites: { id: string; milepost: number; units: Units }[];
  links: { leaves: string; arrives: string; setOuts: { milepost: number }[] }[];
  corridors: object[];
}

const FAR_MILEPOST = 1_000;

/** The same railroad measured from its other end: mileposts that rose fall, and what was the left rail is the right one. */
export function mirrored(railroad: Railroad): Railroad {
  return rewritten(railroad, (file) => {
    for (const site of file.sites) site.milepost = FAR_MILEPOST - site.milepost;
    for (const link of file.links) {
      link.leaves = opposite(link.leaves as "rising");
      link.arrives = opposite(link.arrives as "rising");
      for (const place of link.setOuts) place.milepost = FAR_MILEPOST - place.milepost;
    }
  });
}

/** What the sites of the mirrored railroad send. */
export function mirroredFeed(feed: readonly Arrival[]): Arrival[] {
  return feed.map((arrival) =>
    changedRecord(arrival, (record) => {
      if (record["type"] === "pass-begun") record["direction"] = opposite(record["direction"] as "rising");
      if (record["type"] === "axles") [record["left"], record["right"]] = [record["right"], record["left"]];
    }),
  );
}

const ODD_UNITS: Units = { temperature: "C", reading: "absolute", gap: "mm", speed: "km/h" };
const MM_PER_INCH = 25.4;
const KM_PER_MILE = 1.609344;

/** The same railroad with every site that sends plain units sending others. */
export function inOtherUnits(railroad: Railroad): Railroad {
  return rewritten(railroad, (file) => {
    for (const site of file.sites) if (isPlain(site.units)) site.units = ODD_UNITS;
  });
}

/** What those sites send then. `ambient` of a pass is remembered from its begin: an absolute reading needs it. */
export function feedInOtherUnits(feed: readonly Arrival[], railroad: Railroad): Arrival[] {
  const ambients = new Map<string, number>();
  const converted: Arrival[] = [];
  for (const arrival of feed) {
    const site = railroad.sites.get(arrival.key.split("/")[0] ?? "");
    if (arrival.topic !== "axle-readings" || site === undefined || !isPlain(site.units)) converted.push(arrival);
    else converted.push(changedRecord(arrival, (record) => convert(record, ambients)));
  }
  return converted;
}

function convert(record: Record<string, unknown>, ambients: Map<string, number>): void {
  const pass = `${record["site"]}/${record["track"]}/${record["pass"]}`;
  if (record["type"] === "pass-begun") {
    const ambientF = record["ambient"] as number;
    ambients.set(pass, ambientF);
    record["ambient"] = (ambientF - 32) / 1.8;
  } else if (record["type"] === "axles") {
    const ambientF = ambients.get(pass) ?? Number.NaN;
    const each = (column: unknown, change: (value: number) => number) =>
      (column as (number | null)[]).map((value) => (value === null ? null : change(value)));
    record["gap"] = each(record["gap"], (inches) => inches * MM_PER_INCH);
    if (record["speed"] !== undefined) record["speed"] = each(record["speed"], (mph) => mph * KM_PER_MILE);
    for (const rail of ["left", "right"]) {
      const columns = record[rail] as Record<string, unknown>;
      for (const name of Object.keys(columns)) columns[name] = each(columns[name], (riseF) => (riseF + ambientF - 32) / 1.8);
    }
  }
}

function isPlain(units: Units): boolean {
  return units.temperature === "F" && units.reading === "above-ambient" && units.gap === "in" && units.speed === "mph";
}

function changedRecord(arrival: Arrival, change: (record: Record<string, unknown>) => void): Arrival {
  let record: unknown;
  try {
    record = JSON.parse(arrival.json);
  } catch {
    return arrival;
  }
  if (typeof record !== "object" || record === null) return arrival;
  change(record as Record<string, unknown>);
  return { ...arrival, json: JSON.stringify(record) };
}
