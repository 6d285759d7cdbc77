import type { WatchContext } from "./watch-context.ts";

interface Refusals {
  /** When each of the last came, by our time. */
  atMs: number[];
  reason: string;
  total: number;
}

export type FeedQualityState = Record<string, Refusals>;

const HOUR_MS = 3_600_000;

/** Records of a site that could not be read or used: too many in an hour is a condition of the site. */
export class FeedQuality {
  private readonly context: WatchContext;
  private readonly sites = new Map<string, Refusals>();

  constructor(context: WatchContext) {
    this.context = context;
  }

  refused(site: string, reason: string, nowMs: number): void {
    if (!this.context.owned.has(site) || !Number.isFinite(nowMs)) return;
    const known = this.sites.get(site) ?? { atMs: [], reason, total: 0 };
    this.sites.set(site, known);
    known.total++;
    known.reason = reason;
    known.atMs.push(nowMs);
    const limit = this.context.rulesAt(nowMs).rejectedPerHour;
    if (known.atMs.length > limit) known.atMs.shift();
    if (known.atMs.length < limit || nowMs - known.atMs[0]! > HOUR_MS) return;
    this.context.book.raise({
      site,
      device: "",
      kind: "feed-quality",
      atMs: nowMs,
      words: `${limit} records of ${site} or more were rejected within an hour, the last for ${reason}.`,
      advice: "Look at the rejected records: each says what was expected and what to do. Trains may be missing meanwhile.",
      evidence: `${known.total} so far, the last at ${new Date(nowMs).toISOString()}: ${reason}`,
    });
  }

  tick(nowMs: number): void {
    for (const [site, { atMs }] of this.sites) {
      if (nowMs - (atMs.at(-1) ?? nowMs) > HOUR_MS)
        this.context.book.clear(site, "", "feed-quality", nowMs, "no record was rejected for an hour");
    }
  }

  total(site: string): number {
    return this.sites.get(site)?.total ?? 0;
  }

  state(): FeedQualityState {
    return Object.fromEntries(this.sites);
  }

  restore(state: FeedQualityState): void {
    this.sites.clear();
    for (const [site, refusals] of Object.entries(state)) this.sites.set(site, { ...refusals, atMs: [...refusals.atMs] });
  }
}
