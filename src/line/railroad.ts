/** Where a train heads, and how a site believes it does: by rising or by falling mileposts. */
export type Direction = "rising" | "falling";

/** Rails as the site is built: left and right facing RISING mileposts. 0 is left, 1 is right, wherever both are held in a pair. */
export type Rail = "left" | "right";

/** What a site sends. Converted once, at the edge: inside all is °F above ambient, inches, mph. */
export interface Units {
  temperature: "F" | "C";
  reading: "above-ambient" | "absolute";
  gap: "in" | "ft" | "mm" | "cm";
  speed: "mph" | "km/h";
}

export interface Track {
  id: string;
  /** Has wheel scanners beside the bearing scanners. */
  wheel: boolean;
}

export interface Site {
  id: string;
  name: string;
  line: string;
  milepost: number;
  /** Names the row of limits in the rules file. */
  kind: string;
  tracks: Track[];
  units: Units;
}

/** A place beside a link where a train can leave a vehicle. */
export interface SetOut {
  id: string;
  name: string;
  milepost: number;
  /** Miles along the link from its `from` site. */
  miles: number;
  /** Tracks of the link's `from` site whose trains can get into it. */
  tracks: string[];
  /** Trains that run from -> to can use it; trains that run to -> from can use it. */
  forward: boolean;
  backward: boolean;
  carLengths: number;
}

/** The way between two neighbouring sites, run in both directions. Distances are along the link: mileposts jump. */
export interface Link {
  from: string;
  to: string;
  miles: number;
  /** Milepost direction of a train when it passes `from` on its way to `to`, and when it then passes `to`. */
  leaves: Direction;
  arrives: Direction;
  /** [track at from, track at to] pairs a train can take. */
  tracks: [string, string][];
  fastestMph: number;
  setOuts: SetOut[];
}

/** Neighbouring sites folded together. Passes at lead-in sites come too, but the corridor that owns a site publishes for it. */
export interface Corridor {
  id: string;
  name: string;
  sites: string[];
  leadIn: string[];
}

/** One site ahead of (or behind) a pass, with all that lies on the way. */
export interface Way {
  site: string;
  /** Tracks of that site on which the train can arrive. */
  tracks: string[];
  /** Direction in which the train passes that site. */
  direction: Direction;
  miles: number;
  /** No train is faster over this way. */
  fastestHours: number;
  /** Sites passed on the way, nearest first; empty for a neighbour. */
  over: string[];
  /** Usable set-out places on the way, by rising distance. */
  setOuts: { setOut: SetOut; miles: number }[];
}

export interface Railroad {
  id: string;
  name: string;
  /** Time zone of the railroad, IANA name. */
  timeZone: string;
  /** Invented railroads say so wherever their name stands. */
  demonstration: boolean;
  /** From when on it is like this, milliseconds since the epoch; minus infinity: always was. */
  fromMs: number;
  sites: Map<string, Site>;
  links: Link[];
  corridors: Corridor[];
  /**
   * Sites a train can reach next after passing `site` on `track` in `direction`, up to `hops` links on
   * (1 = neighbours), nearest first. A site before a junction has several.
   */
  ahead(site: string, track: string, direction: Direction, hops: number): Way[];
  /** Corridors that fold the passes of a site: the owner first, then those that list it as lead-in. */
  corridorsOf(site: string): string[];
}

export function opposite(direction: Direction): Direction {
  return direction === "rising" ? "falling" : "rising";
}
