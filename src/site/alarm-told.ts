import type { Equipment } from "../feed/record.ts";
import type { Pass } from "../pass/pass.ts";
import { isSamePass, MOST_WAITING_REPORTS, riseWords } from "./equipment-seen.ts";
import { REPORT_WORDS } from "./site-words.ts";
import type { WatchContext } from "./watch-context.ts";

/** A pass with a reading at the limit, whose site must tell the desk. */
interface Owed {
  id: string;
  site: string;
  track: string;
  axle: number;
  readF: number;
  endedMs: number;
}

/** A site's own limit and what it sends may differ by rounding, °F. */
const OWED_SLACK_F = 2;
const MINUTE_MS = 60_000;
const CREW_MUST_KNOW: readonly Equipment["kind"][] = ["hot-bearing", "dragging", "high", "wide"];

/**
 * Whether the crew and the desk were told. A site can transmit and nobody hear of it (NTSB RRD23FR011), so an alarm over the
 * limit without an announcement, or that the desk did not get in time, is a condition of the site.
 */
export class AlarmsTold {
  private readonly context: WatchContext;
  private readonly limitF: (site: string, ms: number) => number;
  private owed: Owed[] = [];

  constructor(context: WatchContext, limitF: (site: string, ms: number) => number) {
    this.context = context;
    this.limitF = limitF;
  }

  /** A report of a train has come; `cameMs` null: nobody can say when. */
  report(report: Equipment, cameMs: number | null): void {
    this.answered(report);
    if (!CREW_MUST_KNOW.includes(report.kind)) return;
    this.judgeAnnounced(report);
    if (cameMs !== null) this.judgeInTime(report, cameMs);
  }

  /** The hot bearing of a pass has been reported: nothing is owed for it any more. */
  answered(report: Equipment): void {
    if (report.kind === "hot-bearing") this.owed = this.owed.filter((one) => one.site !== report.site || !isSamePass(one.id, report));
  }

  /** A pass was placed for the first time. With a reading at the limit its site must tell the desk of it. */
  passed(pass: Pass): void {
    const limit = this.limitF(pass.site, pass.endedMs) + OWED_SLACK_F;
    for (const rail of [0, 1] as const) {
      const column = pass.bearingRiseF[rail];
      for (let row = 0; row < column.length; row++) {
        if (!(column[row]! >= limit)) continue;
        const { id, site, track, endedMs } = pass;
        this.owed.push({ id, site, track, axle: row + 1, readF: column[row]!, endedMs });
        if (this.owed.length > MOST_WAITING_REPORTS) this.owed.shift();
        return;
      }
    }
  }

  /** Time has come to `nowMs`: what is owed too long is told of. */
  tick(nowMs: number): void {
    for (const owed of [...this.owed]) {
      const { untoldMinutes } = this.context.rulesAt(owed.endedMs).alarms;
      if (nowMs - owed.endedMs < untoldMinutes * MINUTE_MS) continue;
      this.owed = this.owed.filter((one) => one !== owed);
      const what = `axle ${owed.axle} of pass ${passNumber(owed.id)} read ${riseWords(owed.readF)} and no alarm of the site came for it within ${untoldMinutes} minutes.`;
      this.raiseUntold(owed.site, owed.track, nowMs, what);
    }
  }

  /** A site, or a track of it, is not on the line any more. */
  gone(site: string, track: string): void {
    this.owed = this.owed.filter((one) => one.site !== site || (track !== "" && one.track !== track));
  }

  private judgeAnnounced(report: Equipment): void {
    const { site, track } = report;
    const atMs = Date.parse(report.time);
    if (report.announced) {
      this.context.book.clear(site, track, "not-announced", atMs, `${REPORT_WORDS[report.kind]} of pass ${report.pass} was announced`);
      return;
    }
    this.context.book.raise({
      site,
      device: track,
      kind: "not-announced",
      atMs,
      words: `${this.context.said.track(site, track)} reported ${REPORT_WORDS[report.kind]} near axle ${report.axle ?? "unknown"} of pass ${report.pass} and did not announce it to the crew.`,
      advice: "Tell the crew now. Have the site's radio and its direction checked before it is trusted again.",
      evidence: `${REPORT_WORDS[report.kind]} of pass ${report.pass} at ${this.context.said.time(atMs)}, not announced`,
    });
  }

  private judgeInTime(report: Equipment, cameMs: number): void {
    const tookMs = cameMs - Date.parse(report.time);
    const { untoldMinutes } = this.context.rulesAt(cameMs).alarms;
    if (tookMs <= untoldMinutes * MINUTE_MS) {
      this.context.book.clear(
        report.site,
        report.track,
        "desk-not-told",
        cameMs,
        `the report of ${REPORT_WORDS[report.kind]} of pass ${report.pass} came in time`,
      );
      return;
    }
    this.raiseUntold(
      report.site,
      report.track,
      cameMs,
      `the report of ${REPORT_WORDS[report.kind]} of pass ${report.pass} came ${Math.round(tookMs / MINUTE_MS)} minutes after it happened.`,
    );
  }

  private raiseUntold(site: string, track: string, atMs: number, what: string): void {
    this.context.book.raise({
      site,
      device: track,
      kind: "desk-not-told",
      atMs,
      words: `The desk was not told in time by ${this.context.said.track(site, track)}: ${what}`,
      advice: "Act on the readings themselves: tell the crew. Have the site's direction and its way to the desk checked.",
      evidence: what,
    });
  }
}

/** The site's own number of a pass, from its id. */
function passNumber(id: string): string {
  return id.slice(id.lastIndexOf("/") + 1).split("@", 1)[0]!;
}
