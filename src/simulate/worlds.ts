/** What differs from one simulated world to another. Every number is an assumption; shares are 0..1. */
export interface World {
  name: WorldName;
  words: string;
  ambientF: number;
  ambientSwingF: number;
  /** Scanner noise, standard deviation. */
  noiseF: number;
  /** Readings far too low, share; their largest is UNDER_READ_MOST_F. */
  underReadShare: number;
  /** Scanners: standard deviation of the bias of a sound one, share of sick ones and their largest bias. */
  biasSdF: number;
  sickShare: number;
  sickBiasF: number;
  driftShare: number;
  driftFPerDay: number;
  /** Spells a scanner and day in which it reads next to nothing. */
  coldPerDay: number;
  /** Passes with ice or snow on a scanner. */
  iceShare: number;
  /** Sites where the sun warms one rail at some hours, and by how much at most. */
  sunShare: number;
  sunMostF: number;
  /** Planned stops a link. */
  stopShare: number;
  setOutShare: number;
  pickUpShare: number;
  /** Trains that come back: turned on a wye or run around. */
  returnShare: number;
  /** Trains that are followed by their look-alike. */
  lookAlikeShare: number;
  idShare: number;
  wrongIdShare: number;
  consistShare: number;
  /** Sites with a tag reader. */
  tagShare: number;
  /** Trains with one developing bearing: far above ordinary life, for there must be enough to count. */
  developingPerTrain: number;
  /** Trends that end by themselves, and rises that stop: how common they are nobody has published. */
  rollOverPerTrain: number;
  plateauPerTrain: number;
  brakesPerTrain: number;
  /** Warm runners among bearings. */
  warmShare: number;
  missedPerThousand: number;
  doubledPerThousand: number;
  /** Faults of whole sites, spells a site and day. */
  deadPerDay: number;
  silentPerDay: number;
  directionPerDay: number;
  clockPerDay: number;
  latePerDay: number;
  /** Records a day that cannot be read. */
  malformedPerDay: number;
  /** Shares of records sent twice or one too late, and of passes without an end. */
  repeatShare: number;
  swapShare: number;
  noEndShare: number;
}

export type WorldName = "ordinary" | "sparse" | "sick" | "winter" | "mixed";

const ORDINARY: World = {
  name: "ordinary",
  words: "sites 9 to 20 miles apart, sound scanners, mild weather",
  ambientF: 58,
  ambientSwingF: 9,
  noiseF: 3.5,
  underReadShare: 0.015,
  biasSdF: 3,
  sickShare: 0.04,
  sickBiasF: 12,
  driftShare: 0.05,
  driftFPerDay: 6,
  coldPerDay: 0.02,
  iceShare: 0,
  sunShare: 0.25,
  sunMostF: 9,
  stopShare: 0.05,
  setOutShare: 0.02,
  pickUpShare: 0.015,
  returnShare: 0.06,
  lookAlikeShare: 0.04,
  idShare: 0.7,
  wrongIdShare: 0.002,
  consistShare: 0.5,
  tagShare: 0.2,
  developingPerTrain: 0.35,
  rollOverPerTrain: 0.06,
  plateauPerTrain: 0.03,
  brakesPerTrain: 0.08,
  warmShare: 0.0015,
  missedPerThousand: 0.2,
  doubledPerThousand: 0.2,
  deadPerDay: 0.02,
  silentPerDay: 0.01,
  directionPerDay: 0.005,
  clockPerDay: 0.005,
  latePerDay: 0.02,
  malformedPerDay: 2,
  repeatShare: 0.0005,
  swapShare: 0.0005,
  noEndShare: 0.003,
};

export const WORLDS: Readonly<Record<WorldName, World>> = {
  ordinary: ORDINARY,
  sparse: { ...ORDINARY, name: "sparse", words: "sites 25 to 40 miles apart (take a line with such links; see inventLine)" },
  sick: {
    ...ORDINARY,
    name: "sick",
    words: "biases up to 20 °F, drifts, one reading in ten too low, cold scanners",
    noiseF: 4.5,
    underReadShare: 0.1,
    biasSdF: 5,
    sickShare: 0.3,
    sickBiasF: 20,
    driftShare: 0.3,
    driftFPerDay: 14,
    coldPerDay: 0.15,
    sunShare: 0.4,
    sunMostF: 14,
  },
  winter: {
    ...ORDINARY,
    name: "winter",
    words: "ice and snow on scanners, deep cold, many stops with the train warming up afterwards",
    ambientF: 8,
    ambientSwingF: 11,
    noiseF: 4.2,
    underReadShare: 0.03,
    iceShare: 0.12,
    coldPerDay: 0.06,
    stopShare: 0.16,
    sunShare: 0.15,
    brakesPerTrain: 0.14,
    deadPerDay: 0.05,
  },
  mixed: {
    ...ORDINARY,
    name: "mixed",
    words: "no ids, trains that come back reversed or turned, cars set out and picked up, look-alike trains, more miscounts",
    idShare: 0,
    consistShare: 0,
    tagShare: 0,
    setOutShare: 0.07,
    pickUpShare: 0.06,
    returnShare: 0.25,
    lookAlikeShare: 0.12,
    missedPerThousand: 0.4,
    doubledPerThousand: 0.4,
    directionPerDay: 0.02,
  },
};

/** The world of a name. Throws SIM-002 with the names there are. */
export function worldOf(name: string): World {
  if (!Object.hasOwn(WORLDS, name)) throw new RangeError(`SIM-002 no world "${name}": one of ${Object.keys(WORLDS).join(", ")}`);
  return WORLDS[name as WorldName];
}

/** What the worlds differ in, as a table for people. */
export function worldsText(): string {
  const worlds = Object.values(WORLDS);
  const lines = ["What differs from world to world (all of it assumptions):", ""];
  for (const world of worlds) lines.push(`${world.name.padEnd(9)} ${world.words}`);
  lines.push("", `${"".padEnd(20)}${worlds.map((world) => world.name.padStart(10)).join("")}`);
  for (const key of Object.keys(WORLDS.ordinary) as (keyof World)[]) {
    if (typeof WORLDS.ordinary[key] !== "number") continue;
    lines.push(`${key.padEnd(20)}${worlds.map((world) => String(world[key]).padStart(10)).join("")}`);
  }
  return lines.join("\n");
}
