import type { SiteCondition } from "./condition.ts";
import type { Watch } from "./watch.ts";

/** One bearing scanner. */
export interface ScannerRow {
  /** `1/left`. */
  device: string;
  /** Learned bias and its trend; null while nothing was learned. */
  biasF: number | null;
  trendFPerDay: number | null;
}

/** One track under the scanners. */
export interface TrackRow {
  track: string;
  /** Axles compared with the neighbours' lately, and how many of them were missed or counted twice. */
  axlesCompared: number;
  axlesWrong: number;
  testPassed: string | null;
  testDue: string | null;
  /** Why a test is asked for besides the calendar. */
  testAsked: string | null;
  testOpenSince: string | null;
  scanners: ScannerRow[];
}

/** A site as it stands: what the team that keeps it alive looks at first. */
export interface SiteRow {
  site: string;
  name: string;
  line: string;
  milepost: number;
  /** The worst of what is open: `well`, `attention`, `silent`, `dead`, `out-of-service`, or `unheard`. */
  state: "well" | "attention" | "silent" | "dead" | "out-of-service" | "unheard";
  lastHeartbeat: string | null;
  heartbeatMinutes: number | null;
  lastPass: string | null;
  trainsMissed: number;
  /** The site's clock less the others', seconds. */
  clockOffS: number | null;
  rejected: number;
  tracks: TrackRow[];
  conditions: Pick<SiteCondition, "kind" | "device" | "raisedAt" | "alarm" | "priority" | "words">[];
}

/** All sites of a watch, in the order of the line file. `atMs`: how far time has come. */
export function siteRows(watch: Watch, atMs: number): SiteRow[] {
  const { context } = watch.parts;
  return [...context.railroad.sites.keys()].filter((site) => context.owned.has(site)).map((site) => siteRow(watch, site, atMs));
}

function siteRow(watch: Watch, site: string, atMs: number): SiteRow {
  const { context, book, heartbeats, silence, clocks, feedQuality } = watch.parts;
  const { name, line, milepost, tracks } = context.railroad.sites.get(site)!;
  const hearing = heartbeats.hearing(site);
  const conditions = book.openAt(site);
  const interval = heartbeats.intervalMs(site);
  const offset = clocks.offsetMs(site);
  const passMs = watch.lastPassOf(site);
  return {
    site,
    name,
    line,
    milepost,
    state: stateOf(watch, site, conditions, (hearing?.heardMs ?? null) !== null || passMs !== null),
    lastHeartbeat: isoOrNull(hearing?.beatMs ?? null),
    heartbeatMinutes: interval === null ? null : Math.round(interval / 6_000) / 10,
    lastPass: isoOrNull(passMs),
    trainsMissed: silence.missedTrains(site),
    clockOffS: offset === null ? null : Math.round(offset / 1000),
    rejected: feedQuality.total(site),
    tracks: tracks.map((track) => trackRow(watch, site, track.id, atMs)),
    conditions: conditions.map(({ kind, device, raisedAt, alarm, priority, words }) => ({
      kind,
      device,
      raisedAt,
      alarm,
      priority,
      words,
    })),
  };
}

function stateOf(watch: Watch, site: string, conditions: readonly SiteCondition[], isHeard: boolean): SiteRow["state"] {
  if (conditions.some(({ kind, device }) => kind === "out-of-service" && device === "")) return "out-of-service";
  if (watch.parts.heartbeats.isTold(site)) return "dead";
  if (conditions.some(({ kind }) => kind === "silent")) return "silent";
  if (conditions.some(({ priority }) => priority !== "information")) return "attention";
  return isHeard ? "well" : "unheard";
}

function trackRow(watch: Watch, site: string, track: string, atMs: number): TrackRow {
  const { miscounts, scanners, calendar, tests } = watch.parts;
  const counted = miscounts.agreement(site, track);
  const { dueMs, passedMs, asked } = calendar.next(site, track, atMs);
  const open = tests.running(site, track);
  return {
    track,
    axlesCompared: counted?.axles ?? 0,
    axlesWrong: counted?.wrong ?? 0,
    testPassed: isoOrNull(passedMs),
    testDue: isoOrNull(dueMs),
    testAsked: asked,
    testOpenSince: isoOrNull(open?.begunMs ?? null),
    scanners: (["left", "right"] as const).map((rail) => {
      const bias = scanners.bias(site, track, rail);
      return { device: `${track}/${rail}`, biasF: bias?.biasF ?? null, trendFPerDay: bias?.trendFPerDay ?? null };
    }),
  };
}

function isoOrNull(ms: number | null): string | null {
  return ms === null ? null : new Date(ms).toISOString();
}
