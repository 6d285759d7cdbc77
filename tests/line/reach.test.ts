import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { readLine } from "../../src/line/line-file.ts";
import { type Direction, opposite, type Railroad, type Way } from "../../src/line/railroad.ts";
import { type GeneratedFile, generatedRailroad } from "./generated-railroad.ts";

const RUNS = { seed: 20260304, numRuns: 150 };

function railroadOf(file: GeneratedFile): Railroad {
  const { railroad, mistakes } = readLine(JSON.stringify(file), "generated.yaml");
  expect(mistakes).toEqual([]);
  return railroad!;
}

/** Every place a train can be on the railroad, with each way ahead of it. */
function eachWay(railroad: Railroad, hops: number, see: (site: string, track: string, direction: Direction, way: Way) => void): void {
  for (const site of railroad.sites.values()) {
    for (const track of site.tracks) {
      for (const direction of ["rising", "falling"] as const) {
        for (const way of railroad.ahead(site.id, track.id, direction, hops)) see(site.id, track.id, direction, way);
      }
    }
  }
}

function property(check: (railroad: Railroad, file: GeneratedFile) => void, runs = RUNS): void {
  fc.assert(
    fc.property(generatedRailroad, (file) => check(railroadOf(file), file)),
    runs,
  );
}

describe("what lies ahead of a train", () => {
  test("lies behind it for a train the other way, over the same sites and the same miles", () => {
    property((railroad) => {
      eachWay(railroad, 4, (site, track, direction, way) => {
        for (const arrived of way.tracks) {
          const back = railroad
            .ahead(way.site, arrived, opposite(way.direction), 4)
            .filter((w) => sameSites(w, site, [...way.over].reverse()));
          expect(back).toHaveLength(1);
          expect(back[0]!.tracks).toContain(track);
          expect(back[0]!.direction).toBe(opposite(direction));
          expect(back[0]!.miles).toBe(way.miles);
        }
      });
    });
  });

  test("is as far as the links on the way are long, and no quicker to reach than at their fastest speeds", () => {
    property((railroad) => {
      eachWay(railroad, 4, (site, _track, _direction, way) => {
        const stops = [site, ...way.over, way.site];
        let miles = 0;
        let hours = 0;
        for (let i = 1; i < stops.length; i++) {
          const link = railroad.links.find((l) => [l.from, l.to].sort().join() === [stops[i - 1]!, stops[i]!].sort().join())!;
          miles += link.miles;
          hours += link.miles / link.fastestMph;
        }
        expect(way.miles).toBeCloseTo(miles, 9);
        expect(way.fastestHours).toBeCloseTo(hours, 9);
      });
    });
  });

  test("is never the site itself by no distance, and no site is passed twice", () => {
    property((railroad) => {
      eachWay(railroad, 4, (site, _track, _direction, way) => {
        expect(way.miles).toBeGreaterThan(0);
        const passed = [site, ...way.over];
        expect(new Set(passed).size).toBe(passed.length);
        expect(way.over).not.toContain(way.site);
      });
    });
  });

  test("is given nearest first, with its set-out places by rising distance and before it", () => {
    property((railroad) => {
      for (const site of railroad.sites.values()) {
        for (const direction of ["rising", "falling"] as const) {
          const ways = railroad.ahead(site.id, "1", direction, 4);
          expect(ways.map((w) => w.miles)).toEqual(ways.map((w) => w.miles).sort((a, b) => a - b));
          for (const way of ways) {
            const distances = way.setOuts.map((place) => place.miles);
            expect(distances).toEqual([...distances].sort((a, b) => a - b));
            for (const distance of distances) expect(distance > 0 && distance < way.miles).toBe(true);
          }
        }
      }
    });
  });

  test("grows with the hops: fewer hops give the same ways, without those farther on", () => {
    property((railroad) => {
      for (const site of railroad.sites.values()) {
        const far = railroad.ahead(site.id, "1", "rising", 4);
        for (const hops of [1, 2, 3]) {
          expect(railroad.ahead(site.id, "1", "rising", hops)).toEqual(far.filter((way) => way.over.length < hops));
        }
      }
    });
  });

  test("does not depend on the order of links in the file", () => {
    property(
      (railroad, file) => {
        const turned = railroadOf({ ...file, links: [...file.links].reverse() });
        eachWay(railroad, 4, (site, track, direction) => {
          expect(turned.ahead(site, track, direction, 4)).toEqual(railroad.ahead(site, track, direction, 4));
        });
      },
      { ...RUNS, numRuns: 100 },
    );
  });

  test("offers a set-out place only to trains of its direction and its tracks, as far from either side as it is", () => {
    property((railroad) => {
      for (const link of railroad.links) {
        for (const setOut of link.setOuts) {
          for (const [from, to] of link.tracks) {
            const forth = neighbour(railroad, link.from, from, link.leaves, link.to);
            expect(distanceTo(forth, setOut.id)).toBe(setOut.forward && setOut.tracks.includes(from) ? setOut.miles : null);
            const back = neighbour(railroad, link.to, to, opposite(link.arrives), link.from);
            const fromTracks = link.tracks.filter((pair) => pair[1] === to).map((pair) => pair[0]);
            const distance = distanceTo(back, setOut.id);
            if (setOut.backward && fromTracks.some((track) => setOut.tracks.includes(track)))
              expect(distance).toBeCloseTo(link.miles - setOut.miles, 9);
            else expect(distance).toBeNull();
          }
        }
      }
    });
  });

  test("is the same frozen array at every call, since it is asked for at every pass", () => {
    property(
      (railroad) => {
        const ways = railroad.ahead("s0", "1", "rising", 2);
        expect(railroad.ahead("s0", "1", "rising", 2)).toBe(ways);
        expect(Object.isFrozen(ways) && ways.every((way) => Object.isFrozen(way) && Object.isFrozen(way.setOuts))).toBe(true);
      },
      { ...RUNS, numRuns: 20 },
    );
  });

  test("is nothing for a site or a track that is not there, and a fault of the program for hops that are not 1 to 4", () => {
    property(
      (railroad) => {
        expect(railroad.ahead("nowhere", "1", "rising", 1)).toEqual([]);
        expect(railroad.ahead("s0", "9", "rising", 1)).toEqual([]);
        for (const hops of [0, 5, 1.5]) expect(() => railroad.ahead("s0", "1", "rising", hops)).toThrow(RangeError);
      },
      { ...RUNS, numRuns: 5 },
    );
  });
});

function sameSites(way: Way, site: string, over: string[]): boolean {
  return way.site === site && way.over.join() === over.join();
}

function neighbour(railroad: Railroad, site: string, track: string, direction: Direction, to: string): Way {
  return railroad.ahead(site, track, direction, 1).find((way) => way.site === to)!;
}

function distanceTo(way: Way, setOut: string): number | null {
  return way.setOuts.find((place) => place.setOut.id === setOut)?.miles ?? null;
}
