import type { Railroad } from "../../../src/line/railroad.ts";
import type { FeedText } from "../../../src/simulate/feed-text.ts";
import { type Random, stream } from "../../../src/simulate/random.ts";
import type { Json, Kind } from "./kinds.ts";
import type { Label } from "./label.ts";
import { HOUR_MS, type Injury, START_MS } from "./week.ts";

/** Days before the first fault, so that what is usual is known, and the least time between two. */
const QUIET_DAYS = 1.5;

/** Faults of one kind over some days: at sites and times drawn, none at two sites at once. */
export function injuryOf(kind: Kind, railroad: Railroad, seed: number, days: number, count: number): Injury {
  const random = stream(seed, "injury", kind.name);
  const sites = [...railroad.sites.values()];
  const labels: Label[] = [];
  const hit = new Map<Label, string[]>();
  const span = (days - QUIET_DAYS) / count;
  const used = new Set<string>();
  for (let k = 0; k < count; k++) {
    const from = kind.inside === true ? 2 : 0;
    const free = sites
      .slice(from, sites.length - Math.max(from, (kind.together ?? 1) - 1))
      .filter(({ id, tracks }) => !used.has(id) && (kind.doubleTrack !== true || tracks.length > 1));
    const site = random.pick(free);
    used.add(site.id);
    const track = site.tracks[0]!.id;
    const device = kind.device === "track" ? track : kind.device === "scanner" ? `${track}/${random.pick(["left", "right"])}` : "";
    const drawnMs = Math.round(START_MS + (QUIET_DAYS + span * (k + 0.2 * random.unit())) * 24 * HOUR_MS);
    const fromMs = kind.coldStartHours === undefined ? drawnMs : START_MS + kind.coldStartHours * HOUR_MS;
    const { name, answers, plain, goalHours, besides } = kind;
    const label: Label = { name, site: site.id, device, fromMs, toMs: fromMs + kind.hours * HOUR_MS, answers, plain, goalHours, besides };
    labels.push(label);
    const at = sites.indexOf(site);
    hit.set(
      label,
      sites.slice(at, at + (kind.together ?? 1)).map(({ id }) => id),
    );
  }
  if (kind.fault !== undefined) {
    const { kind: what, value } = kind.fault;
    const faults = labels.map((label) => ({
      site: label.site,
      kind: what,
      device: label.device,
      from: (label.fromMs - START_MS) / HOUR_MS,
      to: (label.toMs - START_MS) / HOUR_MS,
      value,
    }));
    return { labels, faults, world: kind.world };
  }
  const { world, siteRules, testAtHours } = kind;
  const tests = testAtHours === undefined ? [] : labels.map((label) => testOf(label, testAtHours));
  const isChanged = kind.change !== undefined || testAtHours !== undefined;
  const change = isChanged ? (item: FeedText) => changed(item, kind, labels, hit, random) : undefined;
  return { labels, world, siteRules, tests, change };
}

function testOf({ site, device, fromMs }: Label, atHours: number): { site: string; track: string; at: number } {
  return { site, track: device, at: (fromMs - START_MS) / HOUR_MS + atHours };
}

function changed(item: FeedText, kind: Kind, labels: readonly Label[], hit: ReadonlyMap<Label, string[]>, random: Random): FeedText[] {
  const site = item.key.split("/")[0]!;
  const label = labels.find((one) => item.atMs >= one.fromMs && item.atMs < one.toMs && hit.get(one)!.includes(site));
  if (label === undefined || item.spoilt === true) return [item];
  const record = JSON.parse(item.json) as Json;
  const change = kind.change ?? ((one: Json) => [one]);
  const records = [...change(record, label, random, item.atMs), ...(isTestsDragging(record) ? simulatedTrain(record) : [])];
  return records.map((record) => ({ ...item, topic: topicOf(record, item), json: JSON.stringify(record) }));
}

/** The last that the tester does in a simulated test before its end. */
function isTestsDragging(record: Json): boolean {
  return record["pass"] === "test" && record["kind"] === "dragging";
}

/** Eight axles made by hand over the transducers: without them no test is passed. */
function simulatedTrain({ site, track, time }: Json): Json[] {
  const after = (seconds: number) => new Date(Date.parse(String(time)) + 1_000 * seconds).toISOString();
  const column = <T>(value: T): T[] => Array.from({ length: 8 }, () => value);
  const rail = { bearing: column(1) };
  return [
    { type: "pass-begun", site, track, pass: "test", time: after(10), direction: "rising" },
    {
      type: "axles",
      site,
      track,
      pass: "test",
      first: 1,
      ms: [0, 500, 1000, 1500, 2000, 2500, 3000, 3500],
      gap: [null, ...column(70).slice(1)],
      speed: column(8),
      left: rail,
      right: rail,
    },
    { type: "pass-ended", site, track, pass: "test", time: after(20), axles: 8, integrity: [] },
  ];
}

function topicOf(record: Json, { topic }: FeedText): FeedText["topic"] {
  if (record["type"] === "equipment") return "site-reports";
  return record["pass"] === "test" ? "axle-readings" : topic;
}
