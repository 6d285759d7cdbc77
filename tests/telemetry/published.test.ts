import fc from "fast-check";
import { expect, test } from "vitest";
import type { SiteCondition } from "../../src/site/condition.ts";
import { createLogger } from "../../src/telemetry/logger.ts";
import { createMetrics } from "../../src/telemetry/metrics.ts";
import { MOST_OPEN_RECORDS, OpenRecords } from "../../src/telemetry/open-records.ts";
import { Published } from "../../src/telemetry/published.ts";
import type { AlarmState, Level, Warning } from "../../src/warning/warning.ts";

const NOON = "2026-03-04T12:00:00.000Z";

/** The few fields of a warning that the numbers come from. */
function warning(id: string, version: number, level: Level, state: AlarmState, time = NOON): Partial<Warning> {
  return { id, version, level, state, time, correction: false, site: "alder-14", place: "axle 187", train: "Q118" };
}

function condition(id: string, version: number, kind: SiteCondition["kind"], state: SiteCondition["state"]): Partial<SiteCondition> {
  return { id, version, kind, state, site: "alder-14", device: "", time: NOON, words: `${kind} ${state}` };
}

function reader() {
  const metrics = createMetrics({ version: "1", nodeDefaults: false });
  const written: string[] = [];
  const published = new Published(metrics, createLogger({ to: { write: (line) => void written.push(line) } }));
  let offset = 0;
  return {
    take(topic: string, value: unknown, isNew = true, arrivedMs = Date.parse(NOON) + 40) {
      const text = typeof value === "string" ? value : JSON.stringify(value);
      published.take({ topic, value: Buffer.from(text), partition: 0, offset: offset++, arrivedMs }, isNew);
      published.tell();
    },
    events: () => written.map((line) => (JSON.parse(line) as { event: string }).event),
    async lines(name: string) {
      const text = await metrics.registry.metrics();
      return text.split("\n").filter((line) => line.startsWith(`bearing_rise_${name}`));
    },
  };
}

test("a dead site is open until its condition is cleared", async () => {
  const { take, lines } = reader();
  take("site-conditions", condition("C-1", 1, "dead", "raised"));
  expect(await lines("site_conditions_open")).toEqual([
    'bearing_rise_site_conditions_open{site="alder-14",kind="dead",state="unacknowledged"} 1',
  ]);
  take("site-conditions", condition("C-1", 2, "dead", "cleared"));
  // As 0: gone, it could not be told from a process that died.
  expect(await lines("site_conditions_open")).toEqual([
    'bearing_rise_site_conditions_open{site="alder-14",kind="dead",state="unacknowledged"} 0',
  ]);
});

test("a condition somebody has shelved is told as shelved", async () => {
  const { take, lines } = reader();
  take("site-conditions", condition("C-1", 1, "dead", "raised"));
  take("site-conditions", { ...condition("C-1", 2, "dead", "raised"), alarm: "shelved" });
  expect(await lines("site_conditions_open")).toEqual([
    'bearing_rise_site_conditions_open{site="alder-14",kind="dead",state="unacknowledged"} 0',
    'bearing_rise_site_conditions_open{site="alder-14",kind="dead",state="shelved"} 1',
  ]);
});

test("what was open before a restart is known, and is not counted as raised again", async () => {
  const { take, lines, events } = reader();
  take("site-conditions", condition("C-1", 1, "dead", "raised"), false);
  take("warnings", warning("W-1", 1, "warn", "unacknowledged"), false);
  expect(await lines("site_conditions_open")).toHaveLength(1);
  expect(await lines("warnings_open")).toEqual(['bearing_rise_warnings_open{level="warn",state="unacknowledged"} 1']);
  expect(await lines("site_conditions_raised_total")).toEqual([]);
  expect(await lines("warnings_total")).toEqual([]);
  expect(events()).toEqual([]);
});

test("the oldest warning that nobody has acknowledged is told until somebody has", async () => {
  const { take, lines } = reader();
  take("warnings", warning("W-2", 1, "limit", "unacknowledged", "2026-03-04T12:10:00.000Z"));
  take("warnings", warning("W-1", 1, "limit", "unacknowledged", "2026-03-04T12:05:00.000Z"));
  const at = (time: string) => [`bearing_rise_oldest_unacknowledged_warning_timestamp_seconds{level="limit"} ${Date.parse(time) / 1_000}`];
  const oldest = async () => (await lines("oldest_unacknowledged")).filter((line) => line.includes("limit"));
  expect(await oldest()).toEqual(at("2026-03-04T12:05:00.000Z"));
  take("warnings", warning("W-1", 2, "limit", "acknowledged", "2026-03-04T12:06:00.000Z"));
  expect(await oldest()).toEqual(at("2026-03-04T12:10:00.000Z"));
  take("warnings", warning("W-2", 2, "limit", "withdrawn", "2026-03-04T12:11:00.000Z"));
  expect(await oldest()).toEqual(['bearing_rise_oldest_unacknowledged_warning_timestamp_seconds{level="limit"} +Inf']);
});

test("a new version of the same level does not begin the wait for somebody again; a higher level does", async () => {
  const { take, lines } = reader();
  const waiting = async (level: Level) => {
    const line = (await lines("oldest_unacknowledged")).find((one) => one.includes(`"${level}"`)) ?? "";
    return line.endsWith(" +Inf") ? Number.POSITIVE_INFINITY : Number(line.split(" ").at(-1)) * 1_000;
  };
  take("warnings", warning("W-1", 1, "warn", "unacknowledged", "2026-03-04T12:00:00.000Z"));
  take("warnings", warning("W-1", 2, "warn", "unacknowledged", "2026-03-04T12:14:00.000Z"));
  expect(await waiting("warn")).toBe(Date.parse("2026-03-04T12:00:00.000Z"));
  take("warnings", warning("W-1", 3, "limit", "unacknowledged", "2026-03-04T12:20:00.000Z"));
  expect(await waiting("limit")).toBe(Date.parse("2026-03-04T12:20:00.000Z"));
  expect(await waiting("warn")).toBe(Number.POSITIVE_INFINITY);
});

test("a warning made from old data is told as late in the log, one in time is not", () => {
  const { take, events } = reader();
  take("warnings", warning("W-1", 1, "warn", "unacknowledged"));
  take("warnings", { ...warning("W-2", 1, "warn", "unacknowledged"), lateMinutes: 90 });
  expect(events()).toEqual(["warning-raised", "warning-raised", "warning-late"]);
});

test("every version of a warning is counted once, as what it was", async () => {
  const { take, lines } = reader();
  take("warnings", warning("W-1", 1, "watch", "unacknowledged"));
  take("warnings", warning("W-1", 1, "watch", "unacknowledged"));
  take("warnings", warning("W-1", 2, "warn", "unacknowledged"));
  take("warnings", { ...warning("W-1", 3, "warn", "unacknowledged"), correction: true });
  take("warnings", warning("W-1", 4, "warn", "acknowledged"));
  take("warnings", warning("W-1", 5, "warn", "cleared"));
  expect((await lines("warnings_total")).sort()).toEqual(
    [
      'bearing_rise_warnings_total{level="watch",change="raised"} 1',
      'bearing_rise_warnings_total{level="warn",change="raised-further"} 1',
      'bearing_rise_warnings_total{level="warn",change="corrected"} 1',
      'bearing_rise_warnings_total{level="warn",change="updated"} 1',
      'bearing_rise_warnings_total{level="warn",change="cleared"} 1',
    ].sort(),
  );
});

test("a warning made from old data shows in the delay", async () => {
  const { take, lines } = reader();
  take("warnings", warning("W-1", 1, "warn", "unacknowledged"), true, Date.parse(NOON) + 3_600_000);
  expect(await lines("warning_delay_seconds_sum")).toEqual(["bearing_rise_warning_delay_seconds_sum 3600"]);
});

test("a scanner's bias is told as a temperature difference, without the 32", async () => {
  const { take, lines } = reader();
  take("calibrations", { site: "alder-14", track: "1", rail: "left", biasF: -18 });
  expect(await lines("site_scanner_bias_celsius")).toEqual([
    'bearing_rise_site_scanner_bias_celsius{site="alder-14",track="1",rail="left"} -10',
  ]);
});

test("a record that cannot be read stops nothing and is said", async () => {
  const { take, lines, events } = reader();
  for (const text of ["", "{", "null", "[1"]) take("site-conditions", text);
  take("site-conditions", condition("C-1", 1, "silent", "raised"));
  expect(await lines("site_conditions_open")).toHaveLength(1);
  expect(events()).toEqual([
    "published-unreadable",
    "published-unreadable",
    "published-unreadable",
    "published-unreadable",
    "site-condition-raised",
  ]);
});

test("in whatever way versions repeat, what is open is what the latest versions say", () => {
  const version = fc.record({ id: fc.constantFrom("a", "b", "c"), open: fc.boolean() });
  fc.assert(
    fc.property(fc.array(version, { maxLength: 40 }), fc.array(fc.nat(39), { maxLength: 20 }), (said, again) => {
      const seen: Record<string, number> = {};
      const records = said.map(({ id, open }) => {
        seen[id] = (seen[id] ?? 0) + 1;
        return { id, version: seen[id], open };
      });
      const latest = new Map(records.map((record) => [record.id, record]));
      const held = new OpenRecords<(typeof records)[number]>(({ open }) => open);
      for (const [at, record] of records.entries()) {
        held.take(record);
        // Delivered at least once: right after itself.
        if (again.includes(at)) held.take(record);
      }
      expect(new Set([...held.values()])).toEqual(new Set([...latest.values()].filter(({ open }) => open)));
    }),
  );
});

test("no more than the bound is kept open", () => {
  const held = new OpenRecords<{ id: string; version: number }>(() => true);
  for (let at = 0; at < MOST_OPEN_RECORDS + 10; at++) held.take({ id: `W-${at}`, version: 1 });
  expect(held.size).toBe(MOST_OPEN_RECORDS);
  expect(held.notKept).toBe(10);
});
