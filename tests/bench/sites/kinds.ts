import type { Random } from "../../../src/simulate/random.ts";
import type { ConditionKind } from "../../../src/site/condition.ts";
import type { Label } from "./label.ts";
import { HOUR_MS, type Injury } from "./week.ts";

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
  change?: (record: Json, label: Label, random: Random, atMs: number) => Json[];
  fault?: { kind: "late" | "miscount" | "noise"; value: number };
  world?: Injury["world"];
  besides?: ConditionKind[];
  /** Sites hit at the same time, as one label. */
  together?: number;
  /** How many in its week; left out: three. */
  count?: number;
  /** Only sites with two tracks. */
  doubleTrack?: boolean;
  /** The fault is there before anything is known: one of them, this long after the first record. */
  coldStartHours?: number;
  /** A functional test of the hit track so many hours after the label began; what the railroad's rules say of sites. */
  testAtHours?: number;
  siteRules?: Record<string, unknown>;
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
    change: (record, label) => [reversed(record, label)],
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
    hours: 64,
    count: 2,
    change: (record) => [record["type"] === "equipment" ? { ...record, announced: false } : record],
  },
  {
    name: "alarms never sent",
    answers: ["desk-not-told", "never-alarms"],
    plain: [],
    goalHours: null,
    hours: 64,
    count: 2,
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
    besides: ["dead", "silent", "miscount", "direction", "desk-not-told", "report-disagrees", "blind-scanner", "scale", "units"],
  },
  {
    name: "silent on one of two tracks",
    answers: ["silent"],
    plain: ["no-pass"],
    goalHours: null,
    hours: 24,
    inside: true,
    device: "track",
    doubleTrack: true,
    change: (record, label) => ("pass" in record && record["track"] === label.device && record["type"] !== "equipment" ? [] : [record]),
    besides: ["desk-not-told"],
  },
  {
    name: "sun on one side, 4 hours a day (no fault)",
    answers: ["sun"],
    plain: ["mean"],
    goalHours: null,
    hours: 64,
    count: 2,
    inside: true,
    device: "scanner",
    change: (record, label, random, atMs) => (isAfternoon(atMs) ? warmed(record, label, random) : [record]),
  },
  {
    name: "alarms at every pass, for nothing",
    answers: ["alarms-often"],
    plain: [],
    goalHours: null,
    hours: 64,
    count: 2,
    change: (record) => (record["type"] === "pass-ended" ? [record, draggingOf(record)] : [record]),
  },
  {
    name: "functional test failed: one scanner does not answer",
    answers: ["test-failed"],
    plain: [],
    goalHours: null,
    hours: 3,
    device: "track",
    testAtHours: 1,
    change: (record) => (record["pass"] === "test" && record["side"] === "left" ? [] : [record]),
  },
  {
    name: "functional test never ended (told after 2 h)",
    answers: ["test-open"],
    plain: [],
    goalHours: null,
    hours: 6,
    device: "track",
    testAtHours: 1,
    change: (record) => (record["phase"] === "ended" ? [] : [record]),
  },
  {
    name: "functional test due: from a day before it is",
    answers: ["test-due"],
    plain: [],
    goalHours: null,
    hours: 72,
    device: "track",
    testAtHours: 1,
    siteRules: { tests: { everyDays: 2, dueSoonDays: 1 } },
    besides: ["test-due", "test-overdue"],
  },
  {
    name: "functional test overdue: from two days after it",
    answers: ["test-overdue"],
    plain: [],
    goalHours: null,
    hours: 72,
    count: 2,
    device: "track",
    testAtHours: 1,
    siteRules: { tests: { everyDays: 2, dueSoonDays: 1 } },
    besides: ["test-due", "test-overdue"],
  },
  {
    name: "cold start: dead after 30 minutes",
    answers: ["dead"],
    plain: ["time-out"],
    goalHours: 0.25,
    hours: 3,
    coldStartHours: 0.5,
    change: () => [],
  },
  {
    name: "cold start: direction reversed from the first record",
    answers: ["direction"],
    plain: [],
    goalHours: null,
    hours: 24,
    inside: true,
    device: "track",
    coldStartHours: 0,
    change: (record, label) => [reversed(record, label)],
  },
  {
    name: "cold start: +20 °F from the first record",
    answers: ["drift"],
    plain: ["mean"],
    goalHours: 24,
    hours: 48,
    inside: true,
    device: "scanner",
    coldStartHours: 0,
    change: readings((value) => tenth(value + 20)),
    besides: ["desk-not-told", "report-disagrees"],
  },
];

const warmed = readings((value) => tenth(value + 16));

/** Four hours of every day. */
function isAfternoon(atMs: number): boolean {
  const hour = new Date(atMs).getUTCHours();
  return hour >= 18 && hour < 22;
}

function reversed(record: Json, label: Label): Json {
  if (record["type"] !== "pass-begun" || record["track"] !== label.device) return record;
  return { ...record, direction: record["direction"] === "rising" ? "falling" : "rising" };
}

function draggingOf({ site, track, pass, time }: Json): Json {
  return { type: "equipment", site, track, pass, time, kind: "dragging", axle: 1, side: null, value: null, announced: true };
}

function selfTest(record: Json, label: Label, random: Random): Json[] {
  if (record["type"] !== "heartbeat" || !random.chance(0.4)) return [record];
  const scanners = record["scanners"] as Record<string, { reference: number }>;
  return [{ ...record, scanners: { ...scanners, [label.device]: { reference: 96 } } }];
}
