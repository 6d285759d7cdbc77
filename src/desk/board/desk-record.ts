import * as z from "zod";
import type { Calibration } from "../../bearing/calibration.ts";
import { deskAction } from "../../feed/desk-actions.ts";
import { time } from "../../feed/fields.ts";
import { line } from "../../feed/lines.ts";
import { calibration } from "../../feed/outbound/calibrations.ts";
import { siteCondition } from "../../feed/outbound/site-conditions.ts";
import { warning } from "../../feed/outbound/warnings.ts";
import type { Consist, DeskAction, Equipment, Fault, FunctionalTest, Heartbeat, LineAnnounced } from "../../feed/record.ts";
import type { LogRecord } from "../../log/log.ts";
import type { Pass } from "../../pass/pass.ts";
import { type PassRecord, passOfRecord } from "../../pass/pass-record.ts";
import type { SiteCondition } from "../../site/condition.ts";
import type { FunctionalTestRecord } from "../../site/functional-test.ts";
import { type Rules, rulesSchema } from "../../warning/rule-set.ts";
import type { Warning } from "../../warning/warning.ts";

/** A record that the pages are folded from. `arrivedMs`: when the log took it, by which the desk looks back. */
export type DeskRecord = { arrivedMs: number } & (
  | { kind: "warning"; value: Warning }
  | { kind: "action"; value: DeskAction }
  | { kind: "condition"; value: SiteCondition }
  | { kind: "calibration"; value: Calibration }
  | { kind: "pass"; value: Pass; corridor: string }
  | { kind: "consist"; value: Consist }
  | { kind: "report"; value: Heartbeat | Fault | Equipment | FunctionalTest }
  | { kind: "test"; value: FunctionalTestRecord }
  | { kind: "rules"; value: { time: string; rules: Rules } }
  | { kind: "line"; value: LineAnnounced }
);

/** Topics that the desk reads. */
export const DESK_TOPICS = [
  "warnings",
  "desk-actions",
  "site-conditions",
  "calibrations",
  "passes",
  "site-reports",
  "consists",
  "functional-tests",
];

const decoder = new TextDecoder();

/** Other programs may write to these topics, and other versions of this one: what would break a page is left out. */
const warningGate = z.compile(warning);
const conditionGate = z.compile(siteCondition);
const calibrationGate = z.compile(calibration);
const lineGate = z.compile(line);
const rulesGate = z.compile(z.object({ type: z.literal("rules"), time, rules: rulesSchema }));

/** The record as the desk knows it; null for what it has no use for, and for what cannot be read (somebody else counts that). */
export function deskRecordOf(record: LogRecord, byArrival = true): DeskRecord | null {
  const found = read(record);
  if (found === null || byArrival) return found;
  const ownMs = ownTimeMs(found);
  return Number.isFinite(ownMs) ? { ...found, arrivedMs: ownMs } : found;
}

/** When it happened, as the record itself says: where recorded days are fed in, it counts as having come then. */
function ownTimeMs(record: DeskRecord): number {
  if (record.kind === "pass") return record.value.endedMs;
  if (record.kind === "calibration") return record.value.effectiveFromMs;
  return Date.parse(String((record.value as { time?: string }).time));
}

function read(record: LogRecord): DeskRecord | null {
  const { arrivedMs, topic } = record;
  let value: { type?: unknown };
  try {
    value = JSON.parse(decoder.decode(record.value));
  } catch {
    return null;
  }
  if (typeof value !== "object" || value === null || Array.isArray(value)) return null;
  switch (topic) {
    case "warnings":
      return warningGate.safeParse(value).success ? { kind: "warning", arrivedMs, value: value as unknown as Warning } : null;
    case "site-conditions":
      return conditionGate.safeParse(value).success ? { kind: "condition", arrivedMs, value: value as unknown as SiteCondition } : null;
    case "calibrations":
      return calibrationGate.safeParse(value).success ? { kind: "calibration", arrivedMs, value: value as unknown as Calibration } : null;
    case "functional-tests":
      return { kind: "test", arrivedMs, value: value as unknown as FunctionalTestRecord };
    case "desk-actions": {
      // Other programs may write this topic too, so what it holds is judged.
      const judged = deskAction.safeParse(value);
      return judged.success ? { kind: "action", arrivedMs, value: judged.data } : null;
    }
    default:
      return between(value, arrivedMs, topic, record.key ?? "");
  }
}

/** Passes with the rules and lines announced between them, and the inbound topics. What else stands between passes has its own. */
function between(value: { type?: unknown }, arrivedMs: number, topic: string, key: string): DeskRecord | null {
  if (topic === "passes" && value.type === "rules")
    return rulesGate.safeParse(value).success ? { kind: "rules", arrivedMs, value: value as { time: string; rules: Rules } } : null;
  if (value.type === "line") return lineGate.safeParse(value).success ? { kind: "line", arrivedMs, value: value as LineAnnounced } : null;
  if (topic === "passes" && value.type !== undefined) return null;
  switch (value.type) {
    case "heartbeat":
    case "fault":
    case "equipment":
    case "functional-test":
      return { kind: "report", arrivedMs, value: value as Heartbeat | Fault | Equipment | FunctionalTest };
    case "consist":
      return { kind: "consist", arrivedMs, value: value as Consist };
    default: {
      if (topic !== "passes" || !isPass(value)) return null;
      return { kind: "pass", arrivedMs, value: passOfRecord(value), corridor: key };
    }
  }
}

function isPass(value: object): value is PassRecord {
  return "left" in value && "right" in value && "vehicles" in value && "axles" in value;
}
