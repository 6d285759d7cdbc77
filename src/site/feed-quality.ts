import type { WatchContext } from "./watch-context.ts";
import { SPOILT_TRAINS_OF } from "./watch-numbers.ts";

interface Refusals {
  /** When each of the last came, by our time. */
  atMs: number[];
  reason: string;
  total: number;
  /** Of the last trains, oldest first: whether a record was refused since the train before; and since the last of them. */
  trains?: boolean[];
  sinceTrain?: boolean;
}

export type FeedQualityState = Record<string, Refusals>;

const HOUR_MS = 3_600_000;

/**
 * Records of a site that could not be read or used. Too many in an hour are a condition of the site, and so are some beside most
 * of its trains: a site that sends 32 axles a record has few records, but loses as much with each.
 */
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
    known.sinceTrain = true;
    const limit = this.context.rulesAt(nowMs).rejectedPerHour;
    if (known.atMs.length > limit) known.atMs.shift();
    if (known.atMs.length < limit || nowMs - known.atMs[0]! > HOUR_MS) return;
    this.raise(site, known, nowMs, `${limit} records of ${this.context.said.site(site)} or more were rejected within an hour`);
  }

  /** A pass of a site has come, for the first time. */
  passed(site: string, nowMs: number): void {
    const known = this.sites.get(site);
    // Nothing was ever refused, as of nearly all sites.
    if (known === undefined) return;
    known.trains ??= [];
    known.trains.push(known.sinceTrain === true);
    if (known.trains.length > SPOILT_TRAINS_OF) known.trains.shift();
    known.sinceTrain = false;
    const spoilt = known.trains.filter((one) => one).length;
    if (known.trains.at(-1) !== true || !Number.isFinite(nowMs) || spoilt < this.context.rulesAt(nowMs).rejectedAtTrains) return;
    this.raise(
      site,
      known,
      nowMs,
      `Records of ${this.context.said.site(site)} were rejected at ${spoilt} of its last ${known.trains.length} trains`,
    );
  }

  private raise(site: string, { reason, total }: Refusals, nowMs: number, what: string): void {
    this.context.book.raise({
      site,
      device: "",
      kind: "feed-quality",
      atMs: nowMs,
      words: `${what}, the last for ${reasonWords(reason)}.`,
      advice: "Look at the rejected records: each says what was expected and what to do. Trains may be missing meanwhile.",
      evidence: `${total} so far, the last at ${this.context.said.time(nowMs)}: ${reasonWords(reason)}`,
    });
  }

  /** Time has come to `nowMs`: a site of which nothing was rejected for an hour, and beside no train, sends well again. */
  tick(nowMs: number): void {
    for (const [site, { atMs, trains }] of this.sites) {
      if (nowMs - (atMs.at(-1) ?? nowMs) > HOUR_MS && trains?.at(-1) !== true)
        this.context.book.clear(site, "", "feed-quality", nowMs, "no record was rejected for an hour");
    }
  }

  /** A site is not on the line any more. */
  gone(site: string): void {
    this.sites.delete(site);
  }

  total(site: string): number {
    return this.sites.get(site)?.total ?? 0;
  }

  state(): FeedQualityState {
    return Object.fromEntries(this.sites);
  }

  restore(state: FeedQualityState): void {
    this.sites.clear();
    for (const [site, refusals] of Object.entries(state)) this.sites.set(site, structuredClone(refusals));
  }
}

/** `FEED-009 wrong-type` as people read it: wrong type (FEED-009). */
function reasonWords(reason: string): string {
  const [code = "", ...words] = reason.split(" ");
  return words.length === 0 ? reason : `${words.join(" ").replaceAll("-", " ")} (${code})`;
}
