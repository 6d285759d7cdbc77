import { type Edge, edgeOf, riseF as riseOf } from "../feed/edge.ts";
import type { Equipment } from "../feed/record.ts";
import { type Journey, type Leg, travelSide } from "../journey/journey.ts";
import type { Pass } from "../pass/pass.ts";
import type { VehicleKind } from "../pass/vehicle.ts";
import type { WatchContext } from "./watch-context.ts";
import { PASS_GRACE_MS } from "./watch-numbers.ts";

/** The vehicle near whose axle a site reported something. */
export interface EquipmentVehicle {
  ordinal: number;
  kind: VehicleKind;
  ordinalOfKind: number;
  id: string | null;
  axleInVehicle: number;
  confidence: number;
}

/** Whether dragging equipment was also seen at the site before or after: told apart, for it says where to look. */
export type DraggingStory = "began-here" | "again" | "gone-at-next";

/** A site's own report, joined with the pass that it is about. A new version when more became known. */
export interface EquipmentSeen {
  type: "equipment-seen";
  id: string;
  version: number;
  time: string;
  site: string;
  track: string;
  /** Pass id; null while its pass has not come. */
  pass: string | null;
  train: string | null;
  kind: Equipment["kind"];
  axle: number | null;
  /** The rail as the site names it, and the side in the direction of travel, as a crew is told. */
  rail: "left" | "right" | null;
  side: "left" | "right" | null;
  vehicle: EquipmentVehicle | null;
  /** What the site reported and what we read of the same axle, °F above ambient. */
  reportedF: number | null;
  oursF: number | null;
  agrees: boolean | null;
  announced: boolean;
  /** Seconds from the report's own time until it came. */
  toldAfterS: number | null;
  dragging: DraggingStory | null;
  words: string;
}

interface Kept {
  pass: Pass;
  leg: Leg | null;
}

/** Passes of a track kept to join reports with, reports waiting for their pass, and pairs of legs waiting for reports. */
export const MOST_KEPT_PASSES = 6;
export const MOST_WAITING = 500;
const WAIT_MS = 3_600_000;
const MINUTE_MS = 60_000;
/** While we catch up, reports are read hours before the passes of their time: they are waited for from then on. */
function isAwaited({ report, cameMs }: Waiting, nowMs: number): boolean {
  return cameMs === null || nowMs - Math.max(cameMs, Date.parse(report.time)) < WAIT_MS;
}

/** A site's own limit and what it sends may differ by rounding, °F. */
const OWED_SLACK_F = 2;
const CREW_MUST_KNOW: readonly Equipment["kind"][] = ["hot-bearing", "dragging", "high", "wide"];

interface Waiting {
  report: Equipment;
  cameMs: number | null;
}

interface Pair {
  before: string;
  after: string;
  beforeSite: string;
  afterSite: string;
  dueMs: number;
}

/** A pass with a reading at the limit, whose site must tell the desk. */
interface Owed {
  id: string;
  site: string;
  track: string;
  axle: number;
  rail: 0 | 1;
  readF: number;
  endedMs: number;
}

/**
 * The sites' own reports: which vehicle, whether our reading of the same axle agrees, whether the crew and the desk were told.
 * A site can transmit and nobody hear of it (NTSB RRD23FR011), so an alarm over the limit without an announcement, or that
 * the desk did not get in time, is a condition of the site.
 */
export class EquipmentReports {
  private readonly context: WatchContext;
  private readonly limitF: (site: string, ms: number) => number;
  private readonly publish: (seen: EquipmentSeen) => void;
  private readonly edges = new Map<string, Edge>();
  private readonly kept = new Map<string, Kept[]>();
  private waiting: Waiting[] = [];
  private readonly seen = new Map<string, EquipmentSeen>();
  private pairs: Pair[] = [];
  private owed: Owed[] = [];

  constructor(context: WatchContext, limitF: (site: string, ms: number) => number, publish: (seen: EquipmentSeen) => void) {
    this.context = context;
    this.limitF = limitF;
    this.publish = publish;
    for (const site of context.railroad.sites.values()) this.edges.set(site.id, edgeOf(site));
  }

  /** A report of a train has come at `nowMs`. */
  report(report: Equipment, nowMs: number): void {
    const cameMs = Number.isFinite(nowMs) ? nowMs : null;
    const pass = this.find(report);
    this.owed = this.owed.filter((one) => !(report.kind === "hot-bearing" && one.site === report.site && isSamePass(one.id, report)));
    this.judgeAnnounced(report);
    this.judgeTold(report, cameMs);
    if (pass === undefined) {
      this.waiting.push({ report, cameMs });
      if (this.waiting.length > MOST_WAITING) this.waiting.shift();
      return;
    }
    this.join(report, cameMs, pass);
  }

  /** A pass was placed, perhaps not for the last time. */
  placed(journey: Journey, leg: Leg): void {
    const { pass } = leg;
    if (this.context.owned.has(pass.site)) this.keep(pass, leg);
    const before = journey.legs[journey.legs.indexOf(leg) - 1];
    if (before === undefined || leg.join === null || this.pairs.some(({ after }) => after === pass.id)) return;
    this.pairs.push({
      before: before.pass.id,
      after: pass.id,
      beforeSite: before.pass.site,
      afterSite: pass.site,
      dueMs: pass.endedMs + PASS_GRACE_MS,
    });
    if (this.pairs.length > MOST_WAITING) this.pairs.shift();
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
    this.owe(pass);
    if (this.waiting.length === 0) return;
    const its = this.waiting.filter(
      ({ report }) => report.site === pass.site && report.track === pass.track && isSamePass(pass.id, report),
    );
    this.waiting = this.waiting.filter((waiting) => !its.includes(waiting));
    for (const { report, cameMs } of its) {
      this.owed = this.owed.filter((owed) => !(report.kind === "hot-bearing" && owed.id === pass.id));
      this.join(report, cameMs, one);
    }
  }

  /** A reading at the limit: the site must tell the desk of it. */
  private owe(pass: Pass): void {
    const limit = this.limitF(pass.site, pass.endedMs) + OWED_SLACK_F;
    for (const rail of [0, 1] as const) {
      const column = pass.bearingRiseF[rail];
      for (let row = 0; row < column.length; row++) {
        if (!(column[row]! >= limit)) continue;
        this.owed.push({
          id: pass.id,
          site: pass.site,
          track: pass.track,
          axle: row + 1,
          rail,
          readF: column[row]!,
          endedMs: pass.endedMs,
        });
        if (this.owed.length > MOST_WAITING) this.owed.shift();
        return;
      }
    }
  }

  private find(report: Equipment): Kept | undefined {
    return this.kept.get(`${report.site}/${report.track}`)?.findLast(({ pass }) => isSamePass(pass.id, report));
  }

  private join(report: Equipment, cameMs: number | null, { pass, leg }: Kept): void {
    const seen = this.seenOf(report, cameMs, pass, leg);
    this.remember(seen);
    if (seen.agrees !== false || seen.rail === null) {
      if (seen.agrees === true)
        this.context.book.clear(
          report.site,
          `${report.track}/${seen.rail}`,
          "report-disagrees",
          pass.endedMs,
          `the report of pass ${pass.id} agrees`,
        );
      return;
    }
    this.context.book.raise({
      site: report.site,
      device: `${report.track}/${seen.rail}`,
      kind: "report-disagrees",
      atMs: pass.endedMs,
      words: `${report.site} reported ${figure(seen.reportedF)} for axle ${seen.axle} of pass ${pass.pass}; its readings say ${figure(seen.oursF)}.`,
      advice: "Take the hotter of the two for true, and have the site checked: what it reports and what it sends should be one reading.",
      evidence: `pass ${pass.id}, axle ${seen.axle}`,
    });
  }

  private seenOf(report: Equipment, cameMs: number | null, pass: Pass, leg: Leg | null): EquipmentSeen {
    const rail = report.side ?? null;
    const railIndex = rail === null ? null : rail === "left" ? 0 : 1;
    const isHot = report.kind === "hot-bearing" || report.kind === "hot-wheel";
    const reported = isHot && report.value != null ? riseOf(this.edges.get(report.site)!, report.value, pass.ambientF) : Number.NaN;
    const row = report.axle == null ? -1 : report.axle - 1;
    const ours = railIndex === null || row < 0 ? Number.NaN : readingOf(report.kind, pass, railIndex, row);
    const off = Math.abs(reported - ours);
    const direction = leg?.direction ?? pass.direction;
    const side = railIndex === null ? null : travelSide(direction, railIndex) === 0 ? "left" : "right";
    const vehicle = vehicleAt(pass, row);
    const agrees = Number.isNaN(off) ? null : off <= this.context.rulesAt(pass.endedMs).alarms.disagreeF;
    return {
      type: "equipment-seen",
      id: `E-${report.site}-${report.track}-${report.pass}-${report.kind}-${report.axle ?? 0}-${rail ?? "none"}-${report.time.replace(/[-:.]/g, "")}`,
      version: 1,
      time: report.time,
      site: report.site,
      track: report.track,
      pass: pass.id,
      train: pass.train,
      kind: report.kind,
      axle: report.axle ?? null,
      rail,
      side,
      vehicle,
      reportedF: numberOrNull(reported),
      oursF: numberOrNull(ours),
      agrees,
      announced: report.announced,
      toldAfterS: cameMs === null ? null : Math.max(0, Math.round((cameMs - Date.parse(report.time)) / 1000)),
      dragging: null,
      words: wordsOf(report, vehicle, side, agrees),
    };
  }

  private remember(seen: EquipmentSeen): void {
    const known = this.seen.get(seen.id);
    if (known !== undefined) return;
    this.seen.set(seen.id, seen);
    if (this.seen.size > MOST_WAITING) this.seen.delete(this.seen.keys().next().value as string);
    this.publish(seen);
  }

  private judgeAnnounced(report: Equipment): void {
    if (!CREW_MUST_KNOW.includes(report.kind)) return;
    const { site, track } = report;
    const atMs = Date.parse(report.time);
    if (report.announced) {
      this.context.book.clear(site, track, "not-announced", atMs, `the ${report.kind} of pass ${report.pass} was announced`);
      return;
    }
    this.context.book.raise({
      site,
      device: track,
      kind: "not-announced",
      atMs,
      words: `${site} track ${track} reported ${report.kind} near axle ${report.axle ?? "unknown"} of pass ${report.pass} and did not announce it to the crew.`,
      advice: "Tell the crew now. Have the site's radio and its direction checked before it is trusted again.",
      evidence: `${report.kind} of pass ${report.pass} at ${report.time}, not announced`,
    });
  }

  private judgeTold(report: Equipment, cameMs: number | null): void {
    if (cameMs === null || !CREW_MUST_KNOW.includes(report.kind)) return;
    const tookMs = cameMs - Date.parse(report.time);
    const { untoldMinutes } = this.context.rulesAt(cameMs).alarms;
    if (tookMs <= untoldMinutes * MINUTE_MS) {
      this.context.book.clear(report.site, report.track, "desk-not-told", cameMs, `the ${report.kind} of pass ${report.pass} came in time`);
      return;
    }
    this.raiseUntold(
      report.site,
      report.track,
      cameMs,
      `${report.kind} of pass ${report.pass} came ${Math.round(tookMs / MINUTE_MS)} minutes after it happened.`,
    );
  }

  private raiseUntold(site: string, track: string, atMs: number, what: string): void {
    this.context.book.raise({
      site,
      device: track,
      kind: "desk-not-told",
      atMs,
      words: `The desk was not told in time by ${site} track ${track}: ${what}`,
      advice: "Act on the readings themselves: tell the crew. Have the site's direction and its way to the desk checked.",
      evidence: what,
    });
  }

  /** Time has come to `nowMs`: what is owed too long is told of, dragging equipment is told apart. */
  tick(nowMs: number): void {
    for (const owed of [...this.owed]) {
      const { untoldMinutes } = this.context.rulesAt(owed.endedMs).alarms;
      if (nowMs - owed.endedMs < untoldMinutes * MINUTE_MS) continue;
      this.owed = this.owed.filter((one) => one !== owed);
      const what = `axle ${owed.axle} of pass ${owed.id} read ${figure(owed.readF)} and no alarm of the site came for it within ${untoldMinutes} minutes.`;
      this.raiseUntold(owed.site, owed.track, nowMs, what);
    }
    if (this.waiting.length > 0) this.waiting = this.waiting.filter((one) => isAwaited(one, nowMs));
    const due = this.pairs.filter(({ dueMs }) => nowMs >= dueMs);
    if (due.length === 0) return;
    this.pairs = this.pairs.filter(({ dueMs }) => nowMs < dueMs);
    for (const pair of due) this.tellDragging(pair);
  }

  private tellDragging({ before, after, beforeSite, afterSite }: Pair): void {
    const first = this.draggingOf(before);
    const then = this.draggingOf(after);
    if (first.length > 0 && then.length === 0) {
      for (const one of first)
        this.again(
          one,
          "gone-at-next",
          `Nothing dragged any more at ${afterSite}: it may have fallen off, or hung itself up again. Look at the track between ${beforeSite} and ${afterSite}.`,
        );
    }
    for (const one of then) {
      if (first.length === 0)
        this.again(
          one,
          "began-here",
          `Nothing dragged at ${beforeSite} before: it began between ${beforeSite} and ${afterSite}. Look at the track between them.`,
        );
      else this.again(one, "again", `It was dragging at ${beforeSite} already.`);
    }
  }

  private draggingOf(pass: string): EquipmentSeen[] {
    return [...this.seen.values()].filter((one) => one.kind === "dragging" && one.pass === pass);
  }

  private again(seen: EquipmentSeen, dragging: DraggingStory, words: string): void {
    // What began here and is gone at the next site says both.
    const next = { ...seen, version: seen.version + 1, dragging, words: `${seen.words} ${words}` };
    this.seen.set(seen.id, next);
    this.publish(next);
  }
}

function isSamePass(id: string, report: Equipment): boolean {
  return id.startsWith(`${report.site}/${report.track}/${report.pass}@`);
}

function readingOf(kind: Equipment["kind"], pass: Pass, rail: 0 | 1, row: number): number {
  if (kind === "hot-bearing") return pass.bearingRiseF[rail][row] ?? Number.NaN;
  return kind === "hot-wheel" ? (pass.wheelRiseF?.[rail][row] ?? Number.NaN) : Number.NaN;
}

function vehicleAt(pass: Pass, row: number): EquipmentVehicle | null {
  const vehicle = row < 0 ? undefined : pass.vehicles[pass.vehicleOfAxle[row] ?? -1];
  if (vehicle === undefined) return null;
  const { ordinal, kind, ordinalOfKind, id, confidence, firstRow } = vehicle;
  return { ordinal, kind, ordinalOfKind, id, axleInVehicle: row - firstRow + 1, confidence };
}

function wordsOf(report: Equipment, vehicle: EquipmentVehicle | null, side: string | null, agrees: boolean | null): string {
  const near = report.kind === "hot-bearing" || report.kind === "hot-wheel" ? "" : "near ";
  const where =
    vehicle === null
      ? `${near}axle ${report.axle ?? "unknown"}`
      : `${near}axle ${vehicle.axleInVehicle} of ${vehicle.kind} ${vehicle.ordinalOfKind} from the head${vehicle.id === null ? "" : ` (${vehicle.id})`}`;
  const said = agrees === null ? "" : agrees ? " Its reading of the axle agrees." : " Its reading of the axle does not agree.";
  return `${report.kind} at ${where}${side === null ? "" : `, ${side} side`}; ${report.announced ? "announced to the crew" : "not announced to the crew"}.${said}`;
}

function figure(value: number | null): string {
  return value === null ? "nothing" : `${value.toFixed(0)} °F above ambient`;
}

function numberOrNull(value: number): number | null {
  return Number.isNaN(value) ? null : value;
}
