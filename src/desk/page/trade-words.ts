import type { PassFlag } from "../../pass/pass.ts";
import type { ConditionAlarm, ConditionKind } from "../../site/condition.ts";

/** Codes of the published records in the words of people. A code that this page does not know yet is shown as it is, readable at least. */

const CONDITIONS: Readonly<Record<ConditionKind, string>> = {
  dead: "dead",
  connection: "cut off",
  silent: "silent",
  late: "records late",
  clock: "clock off",
  direction: "direction reversed",
  miscount: "axles miscounted",
  scale: "spacings off",
  "cold-scanner": "scanner sees next to nothing",
  "blind-scanner": "scanner sees nothing",
  drift: "scanner reads off",
  "noisy-scanner": "scanner noisy",
  snow: "snow or dirt on the scanners",
  sun: "sun on a scanner",
  "self-test": "self-test off",
  "never-alarms": "never sends its alarm",
  "alarms-often": "alarms too often",
  "not-announced": "crew not told of alarms",
  "desk-not-told": "desk not told of alarms",
  "report-disagrees": "its reports disagree",
  "test-due": "functional test due",
  "test-overdue": "functional test overdue",
  "test-failed": "functional test failed",
  "test-open": "functional test not ended",
  "out-of-service": "out of service",
  units: "units doubted",
  fault: "reports a fault",
  "feed-quality": "records spoilt",
};

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

export const conditionWords = (kind: string): string => worded(CONDITIONS, kind);
export const alarmWords = (alarm: string): string => worded(ALARMS, alarm);
export const flagWords = (flag: string): string => worded(FLAGS, flag);
export const checkWords = (check: string): string => worded(CHECKS, check);

function worded(words: Readonly<Record<string, string>>, code: string): string {
  return Object.hasOwn(words, code) ? (words[code] as string) : code.replaceAll("-", " ");
}

/** Of a device's own part, without its track. */
const PARTS: readonly [pattern: RegExp, words: string][] = [
  [/^(left|right)(?:-bearing)?$|^bearing-(left|right)$/, "$1$2 bearing scanner"],
  [/^wheel-(left|right)$|^(left|right)-wheel$/, "$1$2 wheel scanner"],
  [/^(high|wide|dragging)-(left|right)$|^(left|right)-(high|wide|dragging)$/, "$4$1 detector, $2$3"],
  [/^(high|wide|dragging)$/, "$1 detector"],
  [/^transducer-(\d+)$/, "wheel transducer $1"],
  [/^axles-(\d+)$/, "axle count ($1)"],
  [/^simulated-train$/, "axle count"],
  [/^direction-(rising|falling)$/, "direction ($1)"],
];

/** "track 1, left bearing scanner" for `1/left`; "" for a whole site. Names of devices: `site/test-devices.ts`. */
export function deviceWords(device: string): string {
  if (device === "") return "";
  const cut = device.indexOf("/");
  const [track, part] = cut >= 0 ? [device.slice(0, cut), device.slice(cut + 1)] : isPart(device) ? ["", device] : [device, ""];
  const found = PARTS.find(([pattern]) => pattern.test(part));
  const words = found === undefined ? part.replaceAll("-", " ") : part.replace(found[0], found[1]);
  return [track === "" ? "" : `track ${track}`, words].filter((one) => one !== "").join(", ");
}

function isPart(device: string): boolean {
  return device === "announcement" || PARTS.some(([pattern]) => pattern.test(device));
}
