import fc from "fast-check";

/** A line file as plain values. JSON is YAML, so `JSON.stringify` of it is a line file. */
export interface GeneratedFile {
  railroad: { id: string; name: string; timeZone: string };
  units: { temperature: string; reading: string; gap: string; speed: string };
  sites: { id: string; name: string; line: string; milepost: number; kind: string; tracks: { id: string }[] }[];
  links: GeneratedLink[];
  corridors: { id: string; name: string; sites: string[] }[];
}

export interface GeneratedLink {
  from: string;
  to: string;
  miles: number;
  tracks: [string, string][];
  fastestMph: number;
  leaves: string;
  arrives: string;
  setOuts: { id: string; name: string; milepost: number; miles: number; tracks: string[]; trains: string; carLengths: number }[];
}

const TRACKS = ["1", "2", "3"];
const direction = fc.constantFrom("rising", "falling");
/** Hundredths of a mile, as railroads write them. */
const miles = fc.integer({ min: 900, max: 3800 }).map((hundredths) => hundredths / 100);

/**
 * Railroads of 2 to 9 sites: every site is joined to an earlier one, and some pairs besides, so that there are branches,
 * loops and wyes; each site is a line of its own, so that any directions are sound; mileposts are wild.
 */
export const generatedRailroad: fc.Arbitrary<GeneratedFile> = fc.integer({ min: 2, max: 9 }).chain((count) => {
  const joins = fc
    .array(fc.nat(), { minLength: count - 1, maxLength: count - 1 })
    .map((picks) => picks.map((pick, i) => [pick % (i + 1), i + 1] as const));
  const more = fc.array(fc.tuple(fc.nat(count - 1), fc.nat(count - 1)), { maxLength: 4 });
  const sites = fc.array(fc.record({ milepost: fc.integer({ min: 0, max: 9999 }), tracks: fc.integer({ min: 1, max: 3 }) }), {
    minLength: count,
    maxLength: count,
  });
  return fc.tuple(sites, joins, more).chain(([drawn, tree, loops]) => {
    const pairs = distinct([...tree, ...loops]).map(([a, b], index) => link(a, b, drawn[a]!.tracks, drawn[b]!.tracks, index));
    return fc.tuple(...pairs).map((links) => fileOf(drawn, boundEnds(links)));
  });
});

function link(a: number, b: number, tracksA: number, tracksB: number, index: number): fc.Arbitrary<GeneratedLink> {
  const all = TRACKS.slice(0, tracksA).flatMap((from) => TRACKS.slice(0, tracksB).map((to): [string, string] => [from, to]));
  const setOut = fc.record({
    share: fc.integer({ min: 1, max: 99 }),
    milepost: fc.integer({ min: 0, max: 9999 }),
    tracks: fc.subarray(TRACKS.slice(0, tracksA), { minLength: 1 }),
    trains: fc.constantFrom("forward", "backward", "both"),
    carLengths: fc.integer({ min: 1, max: 200 }),
  });
  return fc
    .record({
      miles,
      tracks: fc.subarray(all, { minLength: 1 }),
      fastestMph: fc.integer({ min: 10, max: 80 }),
      leaves: direction,
      arrives: direction,
      setOuts: fc.array(setOut, { maxLength: 4 }),
    })
    .map((drawn) => ({
      ...drawn,
      from: `s${a}`,
      to: `s${b}`,
      setOuts: drawn.setOuts.map(({ share, ...place }, i) => ({
        ...place,
        id: `p${index}-${i}`,
        name: `place ${index}-${i}`,
        miles: Math.round(drawn.miles * share) / 100,
      })),
    }));
}

function distinct(pairs: readonly (readonly [number, number])[]): (readonly [number, number])[] {
  const seen = new Set<string>();
  return pairs.filter(([a, b]) => {
    const key = a < b ? `${a} ${b}` : `${b} ${a}`;
    if (a === b || seen.has(key)) return false;
    seen.add(key);
    return true;
  });
}

/** Leaves out links beyond four at one end of a site, which a line file may not have. */
function boundEnds(links: GeneratedLink[]): GeneratedLink[] {
  const ends = new Map<string, number>();
  return links.filter((each) => {
    const keys = [`${each.from} ${each.leaves}`, `${each.to} ${each.arrives === "rising" ? "falling" : "rising"}`];
    if (keys.some((key) => (ends.get(key) ?? 0) >= 4)) return false;
    for (const key of keys) ends.set(key, (ends.get(key) ?? 0) + 1);
    return true;
  });
}

function fileOf(drawn: { milepost: number; tracks: number }[], links: GeneratedLink[]): GeneratedFile {
  const sites = drawn.map(({ milepost, tracks }, i) => ({
    id: `s${i}`,
    name: `Site ${i}`,
    line: `line ${i}`,
    milepost,
    kind: "main",
    tracks: TRACKS.slice(0, tracks).map((id) => ({ id })),
  }));
  return {
    railroad: { id: "generated", name: "Generated", timeZone: "UTC" },
    units: { temperature: "F", reading: "above-ambient", gap: "in", speed: "mph" },
    sites,
    links,
    // One corridor a site: they need no links to hang together.
    corridors: sites.map(({ id }) => ({ id: `c-${id}`, name: id, sites: [id] })),
  };
}
