import type { Calibration } from "../bearing/calibration.ts";
import type { Fault, Heartbeat } from "../feed/record.ts";
import type { Leg } from "../journey/journey.ts";
import type { Railroad } from "../line/railroad.ts";
import type { Pass } from "../pass/pass.ts";
import type { SiteCondition } from "./condition.ts";
import { ConditionBook } from "./condition-book.ts";
import {
  COLD_AFTER_PASSES,
  DEAD_AFTER_INTERVALS,
  DRIFT_CLEAR_F,
  DRIFT_RAISE_F,
  MISCOUNT_AXLES,
  MISCOUNT_PER_1000,
  SHORTEST_INTERVAL_MS,
  SILENT_AFTER_TRAINS,
} from "./watch-numbers.ts";

interface SiteLife {
  lastHeardMs: number;
  lastHeartbeatMs: number;
  /** The site's own rhythm: the longest of its last heartbeat gaps that was no outage. */
  intervalMs: number;
  missedTrains: number;
}

interface CountLife {
  axles: number;
  miscounts: number;
}

const RAILS = ["left", "right"] as const;

/**
 * Watches the sites by what they send and by what their neighbours saw. A fold over records in the log's order: no
 * clock; event time comes in by `tick`.
 */
export class Watch {
  private readonly book: ConditionBook;
  private readonly lives = new Map<string, SiteLife>();
  private readonly counts = new Map<string, CountLife>();
  private readonly coldPasses = new Map<string, number>();

  constructor(railroad: Railroad, publish: (condition: SiteCondition) => void) {
    this.book = new ConditionBook(publish);
    for (const site of railroad.sites.values()) {
      const unheard = Number.NEGATIVE_INFINITY;
      this.lives.set(site.id, { lastHeardMs: unheard, lastHeartbeatMs: unheard, intervalMs: 0, missedTrains: 0 });
      for (const track of site.tracks) this.counts.set(`${site.id}/${track.id}`, { axles: 0, miscounts: 0 });
    }
  }

  /** Any record of a site: it lives. */
  heard(site: string, ms: number): void {
    const life = this.lives.get(site);
    if (life === undefined || ms <= life.lastHeardMs) return;
    life.lastHeardMs = ms;
    if (this.book.openCount > 0) this.book.clear(site, "", "dead", ms, "the site was heard again");
  }

  heartbeat(record: Heartbeat): void {
    const ms = Date.parse(record.time);
    const life = this.lives.get(record.site);
    if (life === undefined) return;
    const gap = ms - life.lastHeartbeatMs;
    if (Number.isFinite(gap) && gap >= SHORTEST_INTERVAL_MS && !this.book.isOpen(record.site, "", "dead")) {
      life.intervalMs = life.intervalMs === 0 ? gap : Math.max(gap, life.intervalMs * 0.9);
    }
    if (ms > life.lastHeartbeatMs) life.lastHeartbeatMs = ms;
    this.heard(record.site, ms);
  }

  fault(record: Fault): void {
    const atMs = Date.parse(record.time);
    if (record.cleared) {
      this.book.clear(record.site, record.device, "fault", atMs, `the site says that ${record.fault} is over`);
      return;
    }
    this.book.raise({
      site: record.site,
      device: record.device,
      kind: "fault",
      atMs,
      words: `${record.site} reports a fault of ${record.device}: ${record.fault}.`,
      advice: "Take readings of this device with care until the site has been looked at.",
      evidence: `reported at ${record.time}`,
    });
  }

  /** Event time has come to `ms`: which sites have fallen dead? Only those whose rhythm is known can be. */
  tick(ms: number): void {
    for (const [site, life] of this.lives) {
      if (life.intervalMs === 0) continue;
      const silence = ms - life.lastHeardMs;
      if (silence <= DEAD_AFTER_INTERVALS * Math.max(life.intervalMs, SHORTEST_INTERVAL_MS)) continue;
      const lastHeard = new Date(life.lastHeardMs).toISOString();
      if (this.book.isOpen(site, "", "dead")) continue;
      this.book.raise({
        site,
        device: "",
        kind: "dead",
        atMs: ms,
        words: `${site} has sent nothing since ${lastHeard}; it used to every ${Math.round(life.intervalMs / 60_000)} minutes.`,
        advice: "No train is measured there. Look at power and communication; bearings are last seen one site earlier than usual.",
        evidence: `last heard ${lastHeard}`,
      });
    }
  }

  /** A pass was placed, perhaps not for the last time: what it says of its own site at once. Saying it twice changes nothing. */
  placed(pass: Pass, leg: Leg, unitsDoubt: string | null): void {
    const life = this.lives.get(pass.site);
    if (life !== undefined) life.missedTrains = 0;
    this.book.clear(pass.site, "", "silent", pass.endedMs, `pass ${pass.pass} was reported`);
    this.judgeDirection(pass, leg);
    this.judgeUnits(pass, unitsDoubt);
  }

  private judgeDirection(pass: Pass, leg: Leg): void {
    if (leg.directionDoubted) {
      this.book.raise({
        site: pass.site,
        device: pass.track,
        kind: "direction",
        atMs: pass.endedMs,
        words: `${pass.site} track ${pass.track} reports trains in the wrong direction: pass ${pass.pass} said ${pass.direction}, the sites beside it say ${leg.direction}.`,
        advice:
          "Have the wheel transducers checked: they may be connected the wrong way round. The desk and the crew may not be told of its alarms.",
        evidence: `pass ${pass.id} joined from ${leg.join?.from ?? "nothing"}`,
      });
    } else if (leg.join !== null) {
      this.book.clear(pass.site, pass.track, "direction", pass.endedMs, `pass ${pass.id} agrees with the sites beside it`);
    }
  }

  private judgeUnits(pass: Pass, unitsDoubt: string | null): void {
    if (unitsDoubt === null) {
      this.book.clear(pass.site, "", "units", pass.endedMs, `pass ${pass.id} is plausible again`);
      return;
    }
    this.book.raise({
      site: pass.site,
      device: "",
      kind: "units",
      atMs: pass.endedMs,
      words: `${pass.site}: ${unitsDoubt}`,
      advice: "Check the units declared for this site in the line file. Until then its readings are not followed.",
      evidence: `pass ${pass.id}`,
    });
  }

  private judgeCold(pass: Pass, leg: Leg, rail: 0 | 1): void {
    const device = `${pass.track}/${RAILS[rail]}`;
    const key = `${pass.site}/${device}`;
    if (!leg.levels.doubts[rail].some((doubt) => doubt.startsWith("scanner-low") || doubt.startsWith("side-cold"))) {
      this.coldPasses.delete(key);
      this.book.clear(pass.site, device, "cold-scanner", pass.endedMs, `pass ${pass.id} reads like its other side again`);
      return;
    }
    const passes = (this.coldPasses.get(key) ?? 0) + 1;
    this.coldPasses.set(key, passes);
    if (passes < COLD_AFTER_PASSES) return;
    this.book.raise({
      site: pass.site,
      device,
      kind: "cold-scanner",
      atMs: pass.endedMs,
      words: `The ${RAILS[rail]} bearing scanner of ${pass.site} track ${pass.track} reads a whole train's side too low, ${passes} passes in a row.`,
      advice: "Look for ice, snow, dirt or a shutter on the scanner. A hot bearing may be missed there.",
      evidence: `pass ${pass.id}: side median ${leg.levels.medianF[rail].toFixed(1)} °F, other side ${leg.levels.medianF[rail === 0 ? 1 : 0].toFixed(1)} °F`,
    });
  }

  /** A leg that no late pass can change any more: what it says of the sites it ran over, of the counts and of the scanners. */
  settled(leg: Leg, over: readonly string[]): void {
    for (const site of over) this.judgeSilent(site, leg);
    this.judgeCount(leg);
    for (const rail of [0, 1] as const) this.judgeCold(leg.pass, leg, rail);
  }

  private judgeSilent(site: string, leg: Leg): void {
    const life = this.lives.get(site);
    if (life === undefined || this.book.isOpen(site, "", "dead") || life.lastHeartbeatMs === Number.NEGATIVE_INFINITY) return;
    life.missedTrains++;
    if (life.missedTrains < SILENT_AFTER_TRAINS) return;
    this.book.raise({
      site,
      device: "",
      kind: "silent",
      atMs: leg.pass.endedMs,
      words: `${site} sends heartbeats but reported none of the last ${life.missedTrains} trains that were seen on both sides of it.`,
      advice: "Look at transducers and pass detection. Trains are not measured there.",
      evidence: `pass ${leg.pass.id} was joined from ${leg.join?.from ?? "nothing"}`,
    });
  }

  private judgeCount(leg: Leg): void {
    const join = leg.join;
    const life = this.counts.get(`${leg.pass.site}/${leg.pass.track}`);
    if (join === null || life === undefined) return;
    life.axles += leg.pass.axles;
    life.miscounts += join.missedSingly + join.doubled;
    if (life.axles < MISCOUNT_AXLES) return;
    const per1000 = (1_000 * life.miscounts) / life.axles;
    if (per1000 > MISCOUNT_PER_1000) {
      this.book.raise({
        site: leg.pass.site,
        device: leg.pass.track,
        kind: "miscount",
        atMs: leg.pass.endedMs,
        words: `${leg.pass.site} track ${leg.pass.track} missed or doubled ${life.miscounts} of its last ${life.axles} axles against the sites beside it.`,
        advice: "Have the wheel transducers checked: a crew may be sent to the wrong axle.",
        evidence: `pass ${leg.pass.id}: ${join.missedSingly} missed, ${join.doubled} doubled`,
      });
    } else {
      this.book.clear(leg.pass.site, leg.pass.track, "miscount", leg.pass.endedMs, `${per1000.toFixed(1)} per 1,000 axles again`);
    }
    life.axles = 0;
    life.miscounts = 0;
  }

  /** A scanner's learned bias: said aloud when it is large, with hysteresis. */
  calibration(record: Calibration): void {
    const device = `${record.track}/${record.rail}`;
    const atMs = Date.parse(record.time);
    const size = Math.abs(record.biasF);
    if (size - record.sdF >= DRIFT_RAISE_F) {
      this.book.raise({
        site: record.site,
        device,
        kind: "drift",
        atMs,
        words: `The ${record.rail} bearing scanner of ${record.site} track ${record.track} reads ${size.toFixed(1)} °F ${record.biasF > 0 ? "too high" : "too low"} against its neighbours (± ${record.sdF.toFixed(1)}, ${record.trains} trains).`,
        advice: "It is taken out of the levelled readings; the site's own alarm still works on the raw ones. Have the scanner calibrated.",
        evidence: `${record.biasF.toFixed(1)} °F at ${record.time}`,
      });
    } else if (size < DRIFT_CLEAR_F) {
      this.book.clear(record.site, device, "drift", atMs, `bias ${record.biasF.toFixed(1)} °F`);
    }
  }

  /** The site's clock is not believed: its passes are placed by arrival. */
  clock(pass: Pass, words: string): void {
    this.book.raise({
      site: pass.site,
      device: "",
      kind: "clock",
      atMs: pass.endedMs,
      words: `${pass.site}: ${words}`,
      advice: "Set the site's clock. Its passes are placed by their arrival until then.",
      evidence: `pass ${pass.pass}`,
    });
  }

  clockAgrees(pass: Pass): void {
    if (this.book.openCount === 0) return;
    this.book.clear(pass.site, "", "clock", pass.endedMs, `pass ${pass.id} agrees with the other sites again`);
  }
}
