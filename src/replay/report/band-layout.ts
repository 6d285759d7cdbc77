import type { Band } from "./bands.ts";
import { linear } from "./scale.ts";

/** How large a band is drawn, in units of the picture. */
export interface BandSize {
  /** Between neighbouring sites, so that their names stay readable, as long as the band stays under its most. */
  siteRow: number;
  mostPerMile: number;
  least: number;
  most: number;
}

/** Where each site of a band stands below `top`: distances to scale, as large as the size allows. */
export function sitePlaces({ sites, miles }: Pick<Band, "sites" | "miles">, top: number, size: BandSize): Map<string, number> {
  let nearest = Number.POSITIVE_INFINITY;
  for (const [i, { miles: at }] of sites.entries()) {
    const before = sites[i - 1];
    if (before !== undefined) nearest = Math.min(nearest, at - before.miles);
  }
  const perMile = Math.min(size.mostPerMile, size.siteRow / Math.max(nearest, 0.1));
  const height = Math.min(size.most, Math.max(size.least, miles * perMile));
  const place = linear(0, Math.max(miles, 0.1), top, top + height);
  return new Map(sites.map(({ site, miles: at }) => [site, place.at(at)]));
}

/** A train's passes within a band, broken where it was elsewhere in between. At a branch's first site alone it did not run on the branch. */
export function runsWithin<P extends { site: string }>(
  points: readonly P[],
  places: ReadonlyMap<string, number>,
  branchOf: string | null,
): P[][] {
  const runs: P[][] = [];
  let run: P[] = [];
  for (const point of points) {
    if (places.has(point.site)) run.push(point);
    else if (run.length > 0) {
      runs.push(run);
      run = [];
    }
  }
  if (run.length > 0) runs.push(run);
  return branchOf === null ? runs : runs.filter((passes) => passes.some((point) => point.site !== branchOf));
}
