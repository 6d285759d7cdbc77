import type { Equipment } from "../feed/record.ts";
import { forget } from "./forget.ts";
import { poissonEvidence } from "./poisson.ts";
import { boundaries, type SequentialTest, weigh } from "./sequential-test.ts";
import type { WatchContext } from "./watch-context.ts";
import { FEWEST_NETWORK_ALARMS, NEVER_USUALLY, NEVER_WHEN, OFTEN_USUALLY, OFTEN_WHEN, RATE_FALSE_SHARE } from "./watch-numbers.ts";

interface Rate {
  axles: number;
  alarms: number;
  never: SequentialTest;
  often: SequentialTest;
  /** Not yet weighed. */
  newAxles: number;
  newAlarms: number;
}

export type AlarmRateState = Record<string, Rate>;

const BOUNDS = boundaries(RATE_FALSE_SHARE, RATE_FALSE_SHARE);

/**
 * Sites whose own alarms come far more rarely or far more often than the network's, an axle: a site that never alarms may be
 * deaf, one that alarms too often is soon not listened to. Sequential tests, weighed once an hour.
 */
export class AlarmRates {
  private readonly context: WatchContext;
  private readonly sites = new Map<string, Rate>();
  /** The last alarmed pass of each `site/track`: two trains may be at a site at once. */
  private readonly alarmedPasses = new Map<string, string>();

  constructor(context: WatchContext) {
    this.context = context;
    for (const site of context.owned) this.add(site);
  }

  /** A site that is owned from here on. */
  add(site: string): void {
    if (this.sites.has(site)) return;
    this.sites.set(site, { axles: 0, alarms: 0, never: { evidence: 0 }, often: { evidence: 0 }, newAxles: 0, newAlarms: 0 });
  }

  /** A site is not on the line any more. */
  gone(site: string): void {
    this.sites.delete(site);
    forget(this.alarmedPasses, site, "");
  }

  passed(site: string, axles: number): void {
    const rate = this.sites.get(site);
    if (rate === undefined) return;
    rate.axles += axles;
    rate.newAxles += axles;
  }

  /** One of the site's own alarms on a train: hot bearing, hot wheel or dragging equipment. Several of one pass are one. */
  alarmed({ site, track, pass }: Pick<Equipment, "site" | "track" | "pass">): void {
    const key = `${site}/${track}`;
    if (this.alarmedPasses.get(key) === pass) return;
    this.alarmedPasses.set(key, pass);
    const rate = this.sites.get(site);
    if (rate === undefined) return;
    rate.alarms++;
    rate.newAlarms++;
  }

  /** Once an hour. */
  weighAll(nowMs: number): void {
    let axles = 0;
    let alarms = 0;
    for (const rate of this.sites.values()) {
      axles += rate.axles;
      alarms += rate.alarms;
    }
    if (alarms < FEWEST_NETWORK_ALARMS) return;
    for (const [site, rate] of this.sites) {
      const others = (alarms - rate.alarms) / Math.max(1, axles - rate.axles);
      if (rate.newAxles === 0 || others === 0) continue;
      const expected = others * rate.newAxles;
      const never = weigh(rate.never, poissonEvidence(rate.newAlarms, NEVER_USUALLY * expected, NEVER_WHEN * expected), BOUNDS);
      const often = weigh(rate.often, poissonEvidence(rate.newAlarms, OFTEN_USUALLY * expected, OFTEN_WHEN * expected), BOUNDS);
      rate.newAxles = 0;
      rate.newAlarms = 0;
      this.answer(site, "never-alarms", never, rate, others, nowMs);
      this.answer(site, "alarms-often", often, rate, others, nowMs);
    }
  }

  private answer(
    site: string,
    kind: "never-alarms" | "alarms-often",
    answer: "wrong" | "well" | null,
    rate: Rate,
    others: number,
    nowMs: number,
  ): void {
    if (answer === "well") this.context.book.clear(site, "", kind, nowMs, "its alarms are as many as elsewhere again");
    if (answer !== "wrong") return;
    const words = `${this.context.said.site(site)} alarmed ${rate.alarms} times over ${rate.axles} axles; as elsewhere it would be about ${(others * rate.axles).toFixed(1)} times.`;
    this.context.book.raise({
      site,
      device: "",
      kind,
      atMs: nowMs,
      words,
      advice:
        kind === "never-alarms"
          ? "Have the site tested with a heat source on every scanner and the dragging detector struck: it may be deaf."
          : "Have the site's scanners and limits checked: alarms that come to nothing are soon not listened to.",
      evidence: words,
    });
  }

  state(): AlarmRateState {
    return Object.fromEntries(this.sites);
  }

  restore(state: AlarmRateState): void {
    for (const [site, rate] of Object.entries(state)) if (this.sites.has(site)) this.sites.set(site, structuredClone(rate));
  }
}
