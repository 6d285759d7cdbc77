import { edgeOf } from "../feed/edge.ts";
import type { AxleReading } from "../feed/record.ts";
import type { Railroad } from "../line/railroad.ts";
import { Assembly } from "../pass/assemble.ts";
import type { SourceClock } from "./source-clock.ts";

/** From `fromMs` on the track sends its readings in this way; `way` null: it is not on the line. */
interface Span {
  fromMs: number;
  way: string | null;
  assembly: Assembly | null;
}

/**
 * One track under the scanners, and the source that its readings come from: an assembly for each way (units, scanners) in
 * which it sends its readings. A pass is put together and converted in the way of the time at which it began.
 */
export class TrackAssemblies {
  source: SourceClock | null = null;
  private readonly site: string;
  private readonly track: string;
  private readonly byWay = new Map<string, Assembly>();
  private spans: Span[] = [];

  constructor(site: string, track: string) {
    this.site = site;
    this.track = track;
  }

  /** Takes in what the dated states of the railroad say of this track; passes that are open stay as they are. */
  restate(states: readonly Railroad[]): void {
    this.spans = [];
    for (const { fromMs, sites } of states) {
      const site = sites.get(this.site);
      const track = site?.tracks.find(({ id }) => id === this.track);
      const way = site === undefined || track === undefined ? null : JSON.stringify([site.units, track.wheel]);
      if (this.spans.length > 0 && this.spans.at(-1)!.way === way) continue;
      let assembly = way === null ? null : (this.byWay.get(way) ?? null);
      if (way !== null && assembly === null) {
        assembly = new Assembly(site!, track!, edgeOf(site!));
        this.byWay.set(way, assembly);
      }
      this.spans.push({ fromMs, way, assembly });
    }
  }

  /** Every assembly that may have passes open. */
  get all(): Iterable<Assembly> {
    return this.byWay.values();
  }

  /** What puts a record's pass together; null: at `ms` the track is not on the line. `ms`: the record's own time, or when it came. */
  for(record: AxleReading, ms: number): Assembly | null {
    if (this.spans.length === 1) return this.spans[0]!.assembly;
    for (const assembly of this.byWay.values()) if (assembly.isOpen(record.pass)) return assembly;
    // Axles have no time of their own: those of a pass that closed before the change are that pass's.
    if (record.type === "axles") for (const assembly of this.byWay.values()) if (assembly.remembers(record.pass)) return assembly;
    return this.spanAt(ms).assembly;
  }

  private spanAt(ms: number): Span {
    for (let i = this.spans.length - 1; i > 0; i--) if (this.spans[i]!.fromMs <= ms) return this.spans[i]!;
    return this.spans[0]!;
  }
}
