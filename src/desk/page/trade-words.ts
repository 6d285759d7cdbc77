import type { PassFlag } from "../../pass/pass.ts";
import type { ConditionAlarm } from "../../site/condition.ts";

/** Codes of the published records in the words of people. A code that this page does not know yet is shown as it is, readable at least. */

const ALARMS: Readonly<Record<ConditionAlarm, string>> = {
  unacknowledged: "not acknowledged",
  acknowledged: "acknowledged",
  shelved: "shelved",
  "out-of-service": "out of service",
  "returned-unacknowledged": "over, not acknowledged",
  normal: "over",
};

const FLAGS: Readonly<Record<PassFlag, string>> = {
  "no-begin": "its begin was not received",
  "no-end": "its end was not received",
  "timed-out": "never ended; closed after a wait",
  "missing-axles": "axles missing",
  "count-mismatch": "the site counted another number of axles than it sent",
  "out-of-order": "records came out of order",
  "repeat-differs": "sent twice, and not the same",
  slow: "ran slowly over the site",
  "stopped-over-site": "stopped over the site",
  "reversed-over-site": "reversed over the site",
  "scanner-left": "the site doubts its left scanner",
  "scanner-right": "the site doubts its right scanner",
  power: "trouble with the site's power",
  "no-ambient": "no ambient temperature sent",
  "units-doubted": "units doubted",
  "clock-doubted": "the site's clock doubted",
};

const CHECKS: Readonly<Record<string, string>> = {
  "axle-count": "axle count",
  direction: "direction",
  ambient: "ambient temperature",
  announcement: "announcement to the crew",
};

export const alarmWords = (alarm: string): string => worded(ALARMS, alarm);
export const flagWords = (flag: string): string => worded(FLAGS, flag);
export const checkWords = (check: string): string => worded(CHECKS, check);

function worded(words: Readonly<Record<string, string>>, code: string): string {
  return Object.hasOwn(words, code) ? (words[code] as string) : code.replaceAll("-", " ");
}
