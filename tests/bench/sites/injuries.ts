import type { Railroad } from "../../../src/line/railroad.ts";
import type { FeedText } from "../../../src/simulate/feed-text.ts";
import { type Random, stream } from "../../../src/simulate/random.ts";
import type { ConditionKind } from "../../../src/site/condition.ts";
import type { Label } from "./label.ts";
import { HOUR_MS, type Injury, START_MS } from "./week.ts";

/** One kind of fault: what is to be said of it, how long it lasts, and how it changes a record of the site. */
export interface Kind {
  name: string;
  answers: ConditionKind[];
  plain: string[];
  goalHours: number | null;
  hours: number;
  /** Needs a site with a neighbour on both sides. */
  inside?: boolean;
  device?: "" | "track" | "scanner";
  change?: (record: Json, label: Label, random: Random) => Json[];
  fault?: { kind: "late" | "miscount" | "noise"; value: number };
  world?: Injury["world"];
  besides?: ConditionKind[];
  /** Sites hit at the same time, as one label. */
  together?: number;
}

export type Json = Record<string, unknown>;
type Columns = { bearing: (number | null)[] };

const railsOf = (label: Label): ("left" | "right")[] =>
  label.device.includes("/") ? [label.device.split("/")[1] as "left"] : ["left", "right"];

/** Changes the bearing columns of a label's scanners. */
function readings(change: (value: number, random: Random) => number | null) {
  return (record: Json, label: Label, random: Random): Json[] => {
    if (record["type"] !== "axles" || record["track"] !== label.device.split("/")[0]) return [record];
    for (const rail of railsOf(label)) {
      const columns = record[rail] as Columns;
      columns.bearing = columns.bearing.map((value) => (value === null ? null : change(value, random)));
    }
    return [record];
  };
}

function times(offMs: (label: Label, ms: number) => number) {
  return (record: Json, label: Label): Json[] => {
    const { time } = record as { time?: string };
    return time === undefined ? [record] : [{ ...record, time: new Date(Date.parse(time) + offMs(label, Date.parse(time))).toISOString() }];
  };
}

const tenth = (value: number) => Math.round(value * 10) / 10;
const MINUTE_MS = 60_000;
/** Clock faults show in the direction and order of things at the neighbours too. */
const CLOCK_BESIDES: ConditionKind[] = ["direction", "silent", "late", "desk-not-told"];

export const KINDS: readonly Kind[] = [
  { name: "dead", answers: ["dead"], plain: ["time-out"], goalHours: 0.25, hours: 3, change: () => [] },
  {
    name: "broken connection of five sites",
    answers: ["connection"],
    plain: ["time-out"],
    goalHours: 0.25,
    hours: 3,
    together: 5,
    change: () => [],
    besides: ["dead"],
  },
  {
    name: "silent",
    answers: ["silent"],
    plain: ["no-pass"],
    goalHours: null,
    hours: 20,
    inside: true,
    change: (record) => ("pass" in record && record["type"] !== "equipment" ? [] : [record]),
  },
  {
    name: "clock 4 minutes ahead",
    answers: ["clock"],
    plain: ["clock"],
    goalHours: null,
    hours: 12,
    change: times(() => 4 * MINUTE_MS),
    besides: CLOCK_BESIDES,
  },
  {
    name: "clock 7 minutes behind",
    answers: ["clock", "late"],
    plain: ["clock"],
    goalHours: null,
    hours: 12,
    change: times(() => -7 * MINUTE_MS),
    besides: CLOCK_BESIDES,
  },
  {
    name: "clock drifting 20 s an hour",
    answers: ["clock"],
    plain: ["clock"],
    goalHours: null,
    hours: 40,
    change: times((label, ms) => ((ms - label.fromMs) / HOUR_MS) * 20_000),
    besides: CLOCK_BESIDES,
  },
  {
    name: "records an hour late",
    answers: ["late", "dead"],
    plain: ["time-out", "clock"],
    goalHours: null,
    hours: 1,
    fault: { kind: "late", value: 0 },
    besides: CLOCK_BESIDES,
  },
  {
    name: "direction reversed",
    answers: ["direction"],
    plain: [],
    goalHours: null,
    hours: 24,
    inside: true,
    device: "track",
    change: (record, label) => [
      record["type"] === "pass-begun" && record["track"] === label.device
        ? { ...record, direction: record["direction"] === "rising" ? "falling" : "rising" }
        : record,
    ],
  },
  {
    name: "miscount, 8 of 1,000 axles",
    answers: ["miscount"],
    plain: [],
    goalHours: 24,
    hours: 48,
    inside: true,
    device: "track",
    fault: { kind: "miscount", value: 4 },
  },
  {
    name: "spacings 3 % too long",
    answers: ["scale"],
    plain: ["gap"],
    goalHours: null,
    hours: 48,
    inside: true,
    device: "track",
    change: (record, label) => [
      record["type"] === "axles" && record["track"] === label.device
        ? { ...record, gap: (record["gap"] as (number | null)[]).map((gap) => (gap === null ? null : tenth(gap * 1.03))) }
        : record,
    ],
  },
  {
    name: "scanner sees next to nothing",
    answers: ["cold-scanner"],
    plain: ["mean"],
    goalHours: null,
    hours: 24,
    inside: true,
    device: "scanner",
    change: readings((value) => tenth(value * 0.06)),
    besides: ["desk-not-told", "report-disagrees"],
  },
  {
    name: "scanner sends nothing",
    answers: ["blind-scanner"],
    plain: ["nulls"],
    goalHours: null,
    hours: 24,
    inside: true,
    device: "scanner",
    change: readings(() => null),
  },
  {
    name: "drift of +20 °F",
    answers: ["drift"],
    plain: ["mean"],
    goalHours: 24,
    hours: 48,
    inside: true,
    device: "scanner",
    change: readings((value) => tenth(value + 20)),
    besides: ["desk-not-told", "report-disagrees"],
  },
  {
    name: "drift of -20 °F",
    answers: ["drift", "cold-scanner"],
    plain: ["mean"],
    goalHours: 24,
    hours: 48,
    inside: true,
    device: "scanner",
    change: readings((value) => tenth(value - 20)),
    besides: ["desk-not-told", "report-disagrees"],
  },
  {
    name: "noise of 12 °F",
    answers: ["noisy-scanner"],
    plain: ["mean"],
    goalHours: null,
    hours: 48,
    inside: true,
    device: "scanner",
    change: readings((value, random) => tenth(value + 12 * random.normal())),
    besides: ["desk-not-told", "report-disagrees"],
  },
  { name: "self-test low in 4 of 10", answers: ["self-test"], plain: [], goalHours: null, hours: 24, device: "scanner", change: selfTest },
  {
    name: "snow on both scanners",
    answers: ["snow", "cold-scanner"],
    plain: ["mean"],
    goalHours: null,
    hours: 24,
    inside: true,
    device: "track",
    world: { ambientF: 20 },
    change: readings((value) => tenth(value * 0.3)),
    besides: ["desk-not-told", "report-disagrees", "cold-scanner"],
  },
  {
    name: "alarms not announced",
    answers: ["not-announced"],
    plain: [],
    goalHours: null,
    hours: 72,
    change: (record) => [record["type"] === "equipment" ? { ...record, announced: false } : record],
  },
  {
    name: "alarms never sent",
    answers: ["desk-not-told", "never-alarms"],
    plain: [],
    goalHours: null,
    hours: 72,
    change: (record) => (record["type"] === "equipment" ? [] : [record]),
    besides: ["never-alarms"],
  },
  {
    name: "one record in four spoilt",
    answers: ["feed-quality"],
    plain: [],
    goalHours: null,
    hours: 24,
    inside: true,
    change: (record, _label, random) => [random.chance(0.25) ? { ...record, type: "spoilt" } : record],
    besides: ["dead", "silent", "miscount", "direction", "desk-not-told", "report-disagrees", "blind-scanner", "scale"],
  },
];

function selfTest(record: Json, label: Label, random: Random): Json[] {
  if (record["type"] !== "heartbeat" || !random.chance(0.4)) return [record];
  const scanners = record["scanners"] as Record<string, { reference: number }>;
  return [{ ...record, scanners: { ...scanners, [label.device]: { reference: 96 } } }];
}

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
    const free = sites.slice(from, sites.length - Math.max(from, (kind.together ?? 1) - 1)).filter(({ id }) => !used.has(id));
    const site = random.pick(free);
    used.add(site.id);
    const track = site.tracks[0]!.id;
    const device = kind.device === "track" ? track : kind.device === "scanner" ? `${track}/${random.pick(["left", "right"])}` : "";
    const fromMs = Math.round(START_MS + (QUIET_DAYS + span * (k + 0.2 * random.unit())) * 24 * HOUR_MS);
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
  return { labels, world: kind.world, change: (item) => changed(item, kind, labels, hit, random) };
}

function changed(item: FeedText, kind: Kind, labels: readonly Label[], hit: ReadonlyMap<Label, string[]>, random: Random): FeedText[] {
  const label = labels.find(({ fromMs, toMs }) => item.atMs >= fromMs && item.atMs < toMs);
  if (label === undefined || item.spoilt === true) return [item];
  const site = item.key.split("/")[0]!;
  if (!hit.get(label)!.includes(site)) return [item];
  const records = kind.change!(JSON.parse(item.json) as Json, label, random);
  return records.map((record) => ({ ...item, json: JSON.stringify(record) }));
}
