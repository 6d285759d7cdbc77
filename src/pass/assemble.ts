import type { Edge } from "../feed/edge.ts";
import { AXLES_A_PASS, PASS_MS } from "../feed/limits.ts";
import type { AxleReading, Axles, PassBegun, PassEnded } from "../feed/record.ts";
import type { Refusal } from "../feed/reject.ts";
import { ScannedAxles } from "../feed/scanned-axles.ts";
import type { Direction, Site, Track } from "../line/railroad.ts";
import { OpenPass } from "./open-pass.ts";
import type { Pass } from "./pass.ts";
import { flagsOf } from "./pass-flags.ts";
import { passId } from "./pass-id.ts";
import { type RecentPass, RecentPasses } from "./recent-passes.ts";
import { findVehicles } from "./vehicles.ts";

/** What became of a record: it added something, came after its pass was closed, said nothing new, or is refused. */
export type Outcome = "used" | "late" | "repeated" | Refusal;

/** Passes of one track open at once: one under the scanners, one whose last records are on their way, and room for a stuck one or two. */
export const OPEN_PASSES = 4;
/** A pass without an end closes when event time is this far past its last axle: a train may stand over a site for a while. */
export const QUIET_MS = 30 * 60_000;
/** A pass with an end but axles missing waits this long for them: records of one site are seconds apart, not minutes. */
export const SETTLE_MS = 2 * 60_000;
/** A site's own clock is believed when it is not further ahead of event time than this; else only event time counts. */
export const CLOCK_AHEAD_MS = 6 * 3_600_000;
/** A pass number is unique for 24 hours; axles without a time that come half of that after its pass closed are a new pass. */
export const REUSED_AFTER_MS = 12 * 3_600_000;
/** The ambient of another pass of this track stands in for so long where absolute readings came without one (assumption: a few °F). */
export const AMBIENT_KEEPS_MS = 3 * 3_600_000;

/**
 * The fold from axle readings of one track to passes. A normal pass is handed out with its last record, whichever that is;
 * whatever is incomplete waits for event time (`tick`) and says so. The axles' order of arrival does not matter.
 *
 * A begin that never comes: its axles are kept and handed out with the flag `no-begin`, the direction of the pass before it
 * standing in, because a hot bearing must not be lost with one record. The joining of passes finds the true direction. For the
 * same reason absolute readings without an ambient take that of the pass before when it is recent, and say `no-ambient`.
 */
export class Assembly {
  readonly #site: Site;
  readonly #track: Track;
  readonly #edge: Edge;
  readonly #open: OpenPass[] = [];
  readonly #spare: OpenPass[] = [];
  readonly #recent = new RecentPasses();
  #nowMs = Number.NEGATIVE_INFINITY;
  #direction: Direction = "rising";
  #ambientF = Number.NaN;
  #ambientMs = Number.NaN;
  /** Event time when a pass with a direction of its own closed, and one with an ambient of its own. */
  #directionClosedMs = Number.NEGATIVE_INFINITY;
  #ambientClosedMs = Number.NEGATIVE_INFINITY;
  /** Passes that began and ended without a single axle; they are not handed out. */
  emptyPasses = 0;

  constructor(site: Site, track: Track, edge: Edge) {
    this.#site = site;
    this.#track = track;
    this.#edge = edge;
  }

  /** Folds one record; passes that it completes or pushes out are added to `out`. Never throws for data. Keeps `record` at most until its pass closes. */
  step(record: AxleReading, out: Pass[]): Outcome {
    switch (record.type) {
      case "axles":
        return this.#axles(record, out);
      case "pass-begun":
        return this.#begun(record, out);
      case "pass-ended":
        return this.#ended(record, out);
    }
  }

  /** Closes what timed out. `eventTimeMs`: how far event time has come, from wherever the caller trusts it. */
  tick(eventTimeMs: number, out: Pass[]): void {
    if (eventTimeMs > this.#nowMs) this.#nowMs = eventTimeMs;
    for (let k = this.#open.length - 1; k >= 0; k--) {
      const open = this.#open[k]!;
      // Came before event time was known: its own time stands in when it can be believed.
      if (open.touchedMs === Number.NEGATIVE_INFINITY) open.touchedMs = this.#believed(ownMs(open));
      if (this.#isDue(open)) this.#close(k, open.axlesSaid === null, out);
    }
  }

  /** Forgets the passes that closed before `beforeMs` of event time, so that what is known does not depend on older records. */
  forget(beforeMs: number): void {
    if (beforeMs === Number.NEGATIVE_INFINITY) return;
    this.#recent.forget(beforeMs);
    if (this.#directionClosedMs < beforeMs) this.#direction = "rising";
    if (this.#ambientClosedMs < beforeMs) this.#ambientF = this.#ambientMs = Number.NaN;
  }

  /** Closes everything, as when a recorded feed ends. */
  closeAll(out: Pass[]): void {
    while (this.#open.length > 0) this.#close(0, this.#open[0]!.axlesSaid === null, out);
  }

  /** Whether a pass of this number is being put together here. */
  isOpen(pass: string): boolean {
    return this.#find(pass) !== null;
  }

  /** Whether a pass of this number was handed out, and the number does not yet stand for another one. */
  remembers(pass: string): boolean {
    const recent = this.#recent.find(pass);
    return recent !== null && !this.#isReused(recent);
  }

  #axles(record: Axles, out: Pass[]): Outcome {
    // What was scanned is within bounds already.
    const refused = record instanceof ScannedAxles ? null : refusedAxles(record);
    if (refused !== null) return refused;
    let open = this.#find(record.pass);
    if (open === null) {
      const recent = this.#recent.find(record.pass);
      if (recent !== null && !this.#isReused(recent)) return isRepeat(recent, record) ? "repeated" : "late";
      open = this.#openNew(record.pass, out);
    }
    if (!open.take(this.#edge, record)) return "repeated";
    open.touchedMs = this.#nowMs;
    if (open.axlesSaid !== null) this.#handOut(open, out);
    return "used";
  }

  #begun(record: PassBegun, out: Pass[]): Outcome {
    const begunMs = Date.parse(record.time);
    if (Number.isNaN(begunMs)) return noTime();
    let open = this.#find(record.pass);
    if (open?.hasBegin) {
      if (Math.abs(begunMs - open.begunMs) <= PASS_MS) {
        if (!open.sameBegin(this.#edge, record, begunMs)) open.repeatDiffers = true;
        return "repeated";
      }
      // The number was used again before its first pass ended.
      this.#close(this.#open.indexOf(open), true, out);
      open = null;
    }
    if (open !== null && !belongs(begunMs, open.endedMs)) {
      this.#close(this.#open.indexOf(open), true, out);
      open = null;
    }
    if (open === null) {
      const recent = this.#recent.find(record.pass);
      if (recent?.hadBegin && begunMs === recent.begunMs) {
        // Told again long after, as where recordings overlap: what follows it is a repeat too, not axles of another pass.
        recent.closedMs = Math.max(recent.closedMs, this.#nowMs);
        return "repeated";
      }
      if (recent !== null && begunMs - recent.begunMs <= PASS_MS && !this.#isReused(recent)) return "late";
      open = this.#openNew(record.pass, out);
    }
    open.begin(this.#edge, record, begunMs, this.#ambientAt(begunMs));
    open.touchedMs = this.#nowMs;
    this.#handOut(open, out);
    return "used";
  }

  #ended(record: PassEnded, out: Pass[]): Outcome {
    const endedMs = Date.parse(record.time);
    if (Number.isNaN(endedMs)) return noTime();
    let open = this.#find(record.pass);
    if (open !== null && open.axlesSaid !== null) {
      if (!open.sameEnd(record, endedMs)) open.repeatDiffers = true;
      return "repeated";
    }
    if (open === null) {
      const recent = this.#recent.find(record.pass);
      if (recent !== null && belongs(recent.begunMs, endedMs)) return recent.hadEnd ? "repeated" : "late";
      open = this.#openNew(record.pass, out);
    }
    open.end(record, endedMs);
    open.touchedMs = this.#nowMs;
    this.#handOut(open, out);
    return "used";
  }

  /** So long after a pass closed its number stands for another one, whatever the site's clock says. */
  #isReused(recent: RecentPass): boolean {
    return this.#nowMs - recent.closedMs > REUSED_AFTER_MS;
  }

  #find(pass: string): OpenPass | null {
    // The newest is nearly always the one.
    for (let k = this.#open.length - 1; k >= 0; k--) if (this.#open[k]!.pass === pass) return this.#open[k]!;
    return null;
  }

  #openNew(pass: string, out: Pass[]): OpenPass {
    if (this.#open.length === OPEN_PASSES) this.#close(0, true, out);
    const open = this.#spare.pop() ?? new OpenPass();
    open.reset(pass, this.#nowMs);
    this.#open.push(open);
    return open;
  }

  #handOut(open: OpenPass, out: Pass[]): void {
    if (open.complete) this.#close(this.#open.indexOf(open), false, out);
  }

  #isDue(open: OpenPass): boolean {
    const now = this.#nowMs;
    const { touchedMs, begunMs } = open;
    if (open.axlesSaid !== null) return now - later(open.endedMs, touchedMs) > SETTLE_MS;
    // Over two hours: closed even while axles still come. Its clock must have been believable for that.
    if (open.hasBegin && Math.abs(now - begunMs) <= CLOCK_AHEAD_MS && now - begunMs > PASS_MS) return true;
    return now - later(ownMs(open), touchedMs) > QUIET_MS;
  }

  #believed(ms: number): number {
    return Math.abs(this.#nowMs - ms) <= CLOCK_AHEAD_MS ? Math.min(ms, this.#nowMs) : this.#nowMs;
  }

  #close(index: number, timedOut: boolean, out: Pass[]): void {
    const [open] = this.#open.splice(index, 1) as [OpenPass];
    const hadBegin = open.hasBegin;
    if (!hadBegin) open.ambientF = this.#ambientAt(Number.isNaN(open.endedMs) ? open.touchedMs : open.endedMs);
    open.settleEarly(this.#edge);
    if (!hadBegin) this.#standIn(open);
    this.#recent.remember(this.#memory(open, hadBegin));
    if (open.arrived > 0) out.push(this.#passOf(open, hadBegin, timedOut));
    else this.emptyPasses++;
    if (hadBegin) {
      this.#direction = open.direction;
      this.#directionClosedMs = this.#nowMs;
    }
    if (!open.ambientMissing) {
      this.#ambientClosedMs = this.#nowMs;
      this.#ambientF = open.ambientF;
      this.#ambientMs = open.begunMs;
    }
    if (this.#spare.length < OPEN_PASSES) this.#spare.push(open);
  }

  /** Ambient for a pass of that time that has none: absolute readings are worth nothing without. NaN when none is recent. */
  #ambientAt(ms: number): number {
    return this.#edge.absolute && Math.abs(ms - this.#ambientMs) <= AMBIENT_KEEPS_MS ? this.#ambientF : Number.NaN;
  }

  /** Time and direction of a pass whose begin never came: from its end, or from when its records came. */
  #standIn(open: OpenPass): void {
    const endedMs = Number.isNaN(open.endedMs) ? open.touchedMs : open.endedMs;
    // Whole milliseconds, as its record says them.
    open.begunMs = Number.isFinite(endedMs) ? Math.floor(endedMs - open.lastMs) : 0;
    open.direction = this.#direction;
  }

  #memory(open: OpenPass, hadBegin: boolean): RecentPass {
    return {
      pass: open.pass,
      begunMs: open.begunMs,
      rows: open.rows,
      seen: open.arrived === open.rows ? null : open.seen.slice(0, open.rows),
      hadBegin,
      hadEnd: open.axlesSaid !== null,
      closedMs: this.#nowMs,
    };
  }

  #passOf(open: OpenPass, hadBegin: boolean, timedOut: boolean): Pass {
    const { rows, columns } = open;
    if (open.arrived < rows) for (let row = 0; row < rows; row++) if (open.seen[row] === 0) columns.clear(row);
    const lastAxleMs = open.begunMs + open.lastMs;
    const endIsTrue = open.endedMs >= lastAxleMs && open.endedMs - open.begunMs <= PASS_MS + SETTLE_MS;
    const pass: Pass = {
      id: passId(this.#site.id, this.#track.id, open.pass, open.begunMs),
      site: this.#site.id,
      track: this.#track.id,
      pass: open.pass,
      direction: open.direction,
      begunMs: open.begunMs,
      endedMs: endIsTrue ? open.endedMs : Math.ceil(lastAxleMs),
      ambientF: open.ambientF,
      train: open.train,
      axles: rows,
      axlesSaid: open.axlesSaid,
      ...columns.cut(rows),
      tags: open.tags.size === 0 ? NO_TAGS : open.tags,
      flags: [],
      vehicles: [],
      vehicleOfAxle: NO_ROWS,
    };
    const { vehicles, vehicleOfAxle } = findVehicles(pass, null);
    pass.vehicles = vehicles;
    pass.vehicleOfAxle = vehicleOfAxle;
    const { arrived, repeatDiffers, integrity } = open;
    const { absolute, units } = this.#edge;
    const noAmbient = absolute && open.ambientMissing;
    pass.flags = flagsOf(pass, { hadBegin, timedOut, arrived, repeatDiffers, integrity, noAmbient, units });
    return pass;
  }
}

const NO_TAGS: ReadonlyMap<number, string> = new Map();
const NO_ROWS = new Int16Array(0);

/** The site's own time of the last record; NaN while neither begin nor end came. */
function ownMs(open: OpenPass): number {
  return open.hasBegin ? open.begunMs + open.lastMs : open.endedMs;
}

/** The later of the site's own time, when it can be believed, and event time when its last record came. */
function later(ms: number, touchedMs: number): number {
  return ms > touchedMs && ms - touchedMs <= CLOCK_AHEAD_MS ? ms : touchedMs;
}

/** Whether a begin and an end can be of one pass; an end not known yet can be of any. */
function belongs(begunMs: number, endedMs: number): boolean {
  return Number.isNaN(endedMs) || Number.isNaN(begunMs) || (endedMs >= begunMs - SETTLE_MS && endedMs - begunMs <= PASS_MS + SETTLE_MS);
}

/** Whether a closed pass already has every axle of the record. */
function isRepeat(recent: RecentPass, record: Axles): boolean {
  const end = record.first - 1 + record.ms.length;
  if (end > recent.rows) return false;
  if (recent.seen === null) return true;
  for (let row = record.first - 1; row < end; row++) if (recent.seen[row] === 0) return false;
  return true;
}

function refusedAxles(record: Axles): Refusal | null {
  if (!(record.first >= 1 && record.first - 1 + record.ms.length <= AXLES_A_PASS)) {
    return {
      reason: "PASS-001 axles-over-limit",
      path: "first",
      expected: `axles 1 to ${AXLES_A_PASS} of a pass`,
      advice: "Have the site begin a new pass; its transducers may count without a train.",
    };
  }
  for (let i = 0; i < record.ms.length; i++) {
    if (!(record.ms[i]! >= 0 && record.ms[i]! <= PASS_MS)) {
      return {
        reason: "PASS-002 pass-over-two-hours",
        path: `ms[${i}]`,
        expected: `0 to ${PASS_MS} milliseconds since the pass began`,
        advice: "Have the site end a pass when its train has stood for long, and check that it counts from the begin of each pass.",
      };
    }
  }
  return null;
}

function noTime(): Refusal {
  return {
    reason: "PASS-003 no-time",
    path: "time",
    expected: "RFC 3339 in UTC, e.g. 2026-03-04T05:06:07.000Z",
    advice: "Correct the sender: without its time a pass has no place in the day.",
  };
}
