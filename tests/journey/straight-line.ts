import { type Direction, opposite, type Railroad, type Site, type Way } from "../../src/line/railroad.ts";

const MILES = 15;
const FASTEST_MPH = 60;

/** An invented line of sites `s0`, `s1`, ... 15 miles apart, rising; a branch `b0`, `b1`, ... leaves it after `branchAfter`. */
export function straightLine(sites: number, tracks: string[] = ["1"], branchAfter = -1): Railroad {
  const all = new Map<string, Site>();
  const add = (id: string, milepost: number) =>
    all.set(id, {
      id,
      name: id,
      line: id[0]!,
      milepost,
      kind: "standard",
      tracks: tracks.map((track) => ({ id: track, wheel: false })),
      units: { temperature: "F", reading: "above-ambient", gap: "in", speed: "mph" },
    });
  for (let k = 0; k < sites; k++) add(`s${k}`, k * MILES);
  if (branchAfter >= 0) for (let k = 0; k < 3; k++) add(`b${k}`, k * MILES);
  const neighbours = (site: string, direction: Direction): string[] => {
    const k = Number(site.slice(1));
    const next = direction === "rising" ? k + 1 : k - 1;
    if (site.startsWith("b")) return next < 0 ? [`s${branchAfter}`] : next < 3 ? [`b${next}`] : [];
    const ahead = next >= 0 && next < sites ? [`s${next}`] : [];
    return direction === "rising" && k === branchAfter ? [...ahead, "b0"] : ahead;
  };
  const memo = new Map<string, Way[]>();
  const ahead = (site: string, track: string, direction: Direction, hops: number): Way[] => {
    const key = `${site} ${track} ${direction} ${hops}`;
    const known = memo.get(key);
    if (known !== undefined) return known;
    const ways: Way[] = [];
    const walk = (from: string, over: string[], left: number): void => {
      for (const to of neighbours(from, direction)) {
        const miles = MILES * (over.length + 1);
        ways.push({ site: to, tracks, direction, miles, fastestHours: miles / FASTEST_MPH, over, setOuts: [] });
        if (left > 1) walk(to, [...over, to], left - 1);
      }
    };
    walk(site, [], hops);
    ways.sort((a, b) => a.miles - b.miles);
    memo.set(key, ways);
    return ways;
  };
  return {
    id: "test-line",
    name: "Test line",
    timeZone: "UTC",
    demonstration: true,
    fromMs: Number.NEGATIVE_INFINITY,
    sites: all,
    links: [],
    corridors: [{ id: "c", name: "c", sites: [...all.keys()], leadIn: [] }],
    ahead,
    corridorsOf: () => ["c"],
  };
}

export { opposite };
