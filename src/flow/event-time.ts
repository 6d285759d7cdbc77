/**
 * How far event time has come, by what the sites say.
 *
 * It is the latest time that a second site confirms, so that one site with a clock a year ahead moves nothing.
 * A railroad that hears a single site only has no second opinion: then event time stands at minus infinity, and what
 * is kept is bounded by counts alone.
 */
export class EventTime {
  private firstSite = "";
  private firstMs = Number.NEGATIVE_INFINITY;
  private secondMs = Number.NEGATIVE_INFINITY;
  private readonly sitesAt: (ms: number) => number;

  /** `sitesAt`: how many sites there are at a time; while there is one, its own clock is all there is. */
  constructor(sitesAt: (ms: number) => number) {
    this.sitesAt = sitesAt;
  }

  hear(site: string, ms: number): void {
    if (!Number.isFinite(ms)) return;
    if (site === this.firstSite || this.firstSite === "") {
      this.firstSite = site;
      if (ms > this.firstMs) this.firstMs = ms;
    } else if (ms > this.firstMs) {
      this.secondMs = this.firstMs;
      this.firstSite = site;
      this.firstMs = ms;
    } else if (ms > this.secondMs) {
      this.secondMs = ms;
    }
    // Kept, so that time does not fall when a second site comes.
    if (this.secondMs < this.firstMs && this.sitesAt(this.secondMs) < 2) this.secondMs = this.firstMs;
  }

  /** Milliseconds since the epoch, never falling; minus infinity until two sites were heard. */
  get confirmedMs(): number {
    return this.secondMs;
  }
}
