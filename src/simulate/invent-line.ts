import { stringify } from "yaml";
import { stream } from "./random.ts";

/** An invented straight line of any length: for measuring, where the demonstration's railroad is too short. */
export interface InventWishes {
  seed: number;
  sites: number;
  /** Miles between neighbouring sites. */
  milesLow: number;
  milesHigh: number;
  /** Share of sites on double track; it comes in stretches. */
  doubleShare: number;
  /** Sites of each neighbouring corridor that are read with a corridor; LEAD_IN_SITES when absent. */
  leadInSites?: number;
}

const STARTS = [
  "Ash",
  "Birk",
  "Cold",
  "Dun",
  "Elm",
  "Fern",
  "Gar",
  "Hol",
  "Iver",
  "Kes",
  "Lin",
  "Mar",
  "Net",
  "Orr",
  "Pel",
  "Quar",
  "Rush",
  "Sab",
];
const ENDS = ["mere", "dale", "wick", "holt", "rigg", "combe", "stow", "ley", "garth", "beck", "thorpe", "burn"];
/** Sites folded together, and how many of the neighbour's are read with them unless wished otherwise. */
const CORRIDOR_SITES = 14;
const LEAD_IN_SITES = 2;
const STRETCH_SITES = 5;
const NAMES = STARTS.length * ENDS.length;

/** Usual distances between sites: 9 to 20 miles, mean about 14 (published averages are 13.9 and 14.9 miles, [S]). */
export const USUAL_MILES = { milesLow: 9, milesHigh: 20 } as const;
/** The sparse world's. */
export const SPARSE_MILES = { milesLow: 25, milesHigh: 40 } as const;

interface Place {
  id: string;
  name: string;
  milepost: number;
  tracks: number[];
}

/** The line file's YAML. Mileposts rise along the line; the same wishes give the same text. */
export function inventLine(wishes: InventWishes): string {
  const random = stream(wishes.seed, "line");
  const places: Place[] = [];
  let milepost = 5;
  let double = random.chance(wishes.doubleShare);
  for (let at = 0; at < wishes.sites; at++) {
    if (at % STRETCH_SITES === 0) double = random.chance(wishes.doubleShare);
    const name = `${STARTS[at % STARTS.length]}${ENDS[Math.floor(at / STARTS.length) % ENDS.length]}${at >= NAMES ? ` ${Math.floor(at / NAMES) + 1}` : ""}`;
    places.push({
      id: `${name.toLowerCase().replace(" ", "-")}-${Math.floor(milepost)}`,
      name,
      milepost: tenth(milepost),
      tracks: double ? [1, 2] : [1],
    });
    milepost += random.between(wishes.milesLow, wishes.milesHigh);
  }
  const sites = places.map((place) => ({
    id: place.id,
    name: place.name,
    line: "Measured Line",
    milepost: place.milepost,
    tracks: place.tracks.map((id) => ({ id })),
    kind: "main",
    ...(random.chance(0.15) ? { units: { temperature: "C", reading: "absolute", gap: "mm", speed: "km/h" } } : {}),
  }));
  const links = places.slice(1).map((to, at) => {
    const from = places[at] as Place;
    const miles = tenth(to.milepost - from.milepost);
    const setOuts = [0.35, 0.7].flatMap((share, place) => {
      if (random.chance(0.3)) return [];
      const along = tenth(miles * (share + random.between(-0.1, 0.1)));
      return [
        {
          id: `${from.id}-place-${place + 1}`,
          name: `${from.name} siding ${place + 1}`,
          milepost: tenth(from.milepost + along),
          miles: along,
          tracks: from.tracks,
          trains: random.weighted<string>([
            { weight: 6, value: "both" },
            { weight: 1, value: "forward" },
            { weight: 1, value: "backward" },
          ]),
          carLengths: random.whole(8, 60),
        },
      ];
    });
    return { from: from.id, to: to.id, miles, tracks: pairs(from.tracks, to.tracks), fastestMph: 60, setOuts };
  });
  const corridors = [];
  const lead = wishes.leadInSites ?? LEAD_IN_SITES;
  for (let at = 0; at < places.length; at += CORRIDOR_SITES) {
    const end = Math.min(places.length, at + CORRIDOR_SITES);
    const leadIn = [...places.slice(Math.max(0, at - lead), at), ...places.slice(end, end + lead)].map((place) => place.id);
    const number = at / CORRIDOR_SITES + 1;
    corridors.push({ id: `part-${number}`, name: `Part ${number}`, sites: places.slice(at, end).map((place) => place.id), leadIn });
  }
  return stringify({
    railroad: { id: "measured-line", name: "Measured Line (invented)", timeZone: "America/Chicago", demonstration: true },
    units: { temperature: "F", reading: "above-ambient", gap: "in", speed: "mph" },
    sites,
    links,
    corridors,
  });
}

function pairs(from: number[], to: number[]): [number, number][] {
  if (from.length === to.length) return from.map((track) => [track, track]);
  return from.flatMap((here) => to.map((there): [number, number] => [here, there]));
}

function tenth(value: number): number {
  return Math.round(value * 10) / 10;
}
