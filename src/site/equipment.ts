import { edgeOf } from "../feed/edge.ts";
import type { Equipment } from "../feed/record.ts";
import type { Journey, Leg } from "../journey/journey.ts";
import type { Pass } from "../pass/pass.ts";
import { AlarmsTold } from "./alarm-told.ts";
import { Dragging, type DraggingTold } from "./dragging.ts";
import { type EquipmentSeen, isSamePass, MOST_WAITING_REPORTS, type PlacedPass, riseWords, seenOf } from "./equipment-seen.ts";
import { forget } from "./forget.ts";
import type { WatchContext } from "./watch-context.ts";

/** Passes of a track kept to join reports with. */
export const MOST_KEPT_PASSES = 6;
const WAIT_MS = 3_600_000;

interface Waiting {
  report: Equipment;
  /** null: nobody can say. */
  cameMs: number | null;
}

/**
 * The sites' own reports, joined with the pass that they are about: which vehicle, whether our reading of the same axle agrees,
 * whether it dragged at the site before.
 */
export class EquipmentReports {
  private readonly context: WatchContext;
  private readonly publish: (seen: EquipmentSeen) => void;
  private readonly kept = new Map<string, PlacedPass[]>();
  private waiting: Waiting[] = [];
  private readonly seen = new Map<string, EquipmentSeen>();
  private readonly told: AlarmsTold;
  private readonly dragging: Dragging;

  /** `limitF`: the site's hard limit at a time, °F above ambient. */
  constructor(context: WatchContext, limitF: (site: string, ms: number) => number, publish: (seen: EquipmentSeen) => void) {
    this.context = context;
    this.publish = publish;
    this.told = new AlarmsTold(context, limitF);
    this.dragging = new Dragging(context.said);
  }

  /** A report of a train has come at `nowMs`; `isTimed` false: nobody can say what time it is. */
  report(report: Equipment, nowMs: number, isTimed: boolean): void {
    const cameMs = isTimed && Number.isFinite(nowMs) ? nowMs : null;
    this.told.report(report, cameMs);
    const placed = this.kept.get(`${report.site}/${report.track}`)?.findLast(({ pass }) => isSamePass(pass.id, report));
    if (placed !== undefined) {
      this.join(report, cameMs, placed);
      return;
    }
    this.waiting.push({ report, cameMs });
    if (this.waiting.length > MOST_WAITING_REPORTS) this.waiting.shift();
  }

  /** A pass was placed, perhaps not for the last time. */
  placed(journey: Journey, leg: Leg): void {
    if (this.context.owned.has(leg.pass.site)) this.keep(leg.pass, leg);
    this.dragging.placed(journey, leg);
  }

  private keep(pass: Pass, leg: Leg): void {
    const key = `${pass.site}/${pass.track}`;
    let kept = this.kept.get(key);
    if (kept === undefined) {
      kept = [];
      this.kept.set(key, kept);
    }
    const known = kept.find((one) => one.pass.id === pass.id);
    if (known !== undefined) {
      known.pass = pass;
      known.leg = leg;
      return;
    }
    const one = { pass, leg };
    kept.push(one);
    if (kept.length > MOST_KEPT_PASSES) kept.shift();
    this.told.passed(pass);
    this.joinWaiting(one);
  }

  private joinWaiting(placed: PlacedPass): void {
    if (this.waiting.length === 0) return;
    const its = this.waiting.filter(({ report }) => isSamePass(placed.pass.id, report));
    this.waiting = this.waiting.filter((waiting) => !its.includes(waiting));
    for (const { report, cameMs } of its) {
      this.told.answered(report);
      this.join(report, cameMs, placed);
    }
  }

  private join(report: Equipment, cameMs: number | null, placed: PlacedPass): void {
    const toldAfterS = cameMs === null ? null : Math.max(0, Math.round((cameMs - Date.parse(report.time)) / 1000));
    const { disagreeF } = this.context.rulesAt(placed.pass.endedMs).alarms;
    const seen = seenOf(report, placed, edgeOf(this.context.railroad.sites.get(report.site)!), { toldAfterS, disagreeF });
    this.remember(seen);
    this.judgeAgreement(seen, placed.pass);
  }

  private remember(seen: EquipmentSeen): void {
    if (this.seen.has(seen.id)) return;
    this.seen.set(seen.id, seen);
    if (this.seen.size > MOST_WAITING_REPORTS) this.seen.delete(this.seen.keys().next().value as string);
    this.publish(seen);
  }

  private judgeAgreement({ site, track, rail, axle, agrees, reportedF, oursF }: EquipmentSeen, { id, pass, endedMs }: Pass): void {
    if (agrees === null || rail === null) return;
    const device = `${track}/${rail}`;
    if (agrees) {
      this.context.book.clear(site, device, "report-disagrees", endedMs, `the report of pass ${id} agrees`);
      return;
    }
    this.context.book.raise({
      site,
      device,
      kind: "report-disagrees",
      atMs: endedMs,
      words: `${this.context.said.site(site)} reported ${riseWords(reportedF)} for axle ${axle} of pass ${pass}; its readings say ${riseWords(oursF)}.`,
      advice: "Take the hotter of the two for true, and have the site checked: what it reports and what it sends should be one reading.",
      evidence: `pass ${id}, axle ${axle}`,
    });
  }

  /** A site, or a track of it, is not on the line any more. */
  gone(site: string, track: string): void {
    forget(this.kept, site, track);
    this.waiting = this.waiting.filter(({ report }) => report.site !== site || (track !== "" && report.track !== track));
    this.told.gone(site, track);
  }

  /**
   * Time has come to `nowMs`: what is owed too long is told of, dragging equipment is told apart. `isTimed` false: a report may
   * be in another partition that was not read so far, and none is owed.
   */
  tick(nowMs: number, isTimed: boolean): void {
    if (isTimed) this.told.tick(nowMs);
    if (this.waiting.length > 0) this.waiting = this.waiting.filter((one) => isAwaited(one, nowMs));
    this.dragging.tick(
      nowMs,
      (pass) => this.draggingOf(pass),
      (told) => this.tellDragging(told),
    );
  }

  private draggingOf(pass: string): EquipmentSeen[] {
    const found: EquipmentSeen[] = [];
    for (const one of this.seen.values()) if (one.kind === "dragging" && one.pass === pass) found.push(one);
    return found;
  }

  private tellDragging({ seen, story, words }: DraggingTold): void {
    // What began here and is gone at the next site says both.
    const next = { ...seen, version: seen.version + 1, dragging: story, words: `${seen.words} ${words}` };
    this.seen.set(seen.id, next);
    this.publish(next);
  }
}

/** While we catch up, reports are read hours before the passes of their time: they are waited for from then on. */
function isAwaited({ report, cameMs }: Waiting, nowMs: number): boolean {
  return cameMs === null || nowMs - Math.max(cameMs, Date.parse(report.time)) < WAIT_MS;
}
