/** What can be the matter with a site. `KINDS` says of each how urgent it is. */
export type ConditionKind =
  | "dead"
  | "connection"
  | "silent"
  | "late"
  | "clock"
  | "direction"
  | "miscount"
  | "scale"
  | "cold-scanner"
  | "blind-scanner"
  | "drift"
  | "noisy-scanner"
  | "snow"
  | "sun"
  | "self-test"
  | "never-alarms"
  | "alarms-often"
  | "not-announced"
  | "desk-not-told"
  | "report-disagrees"
  | "test-due"
  | "test-overdue"
  | "test-failed"
  | "test-open"
  | "out-of-service"
  | "units"
  | "fault"
  | "feed-quality";

/**
 * Where a condition stands as an alarm, in the words of IEC 62682 (TRADE 4): raised and not answered; answered; set aside for
 * a time; taken out of service; over without having been answered; over.
 */
export type ConditionAlarm = "unacknowledged" | "acknowledged" | "shelved" | "out-of-service" | "returned-unacknowledged" | "normal";

/** How soon somebody must answer. `information`: nobody must, so it is no alarm. */
export type ConditionPriority = "high" | "medium" | "low" | "information";

/** One open condition per site, device and kind; raised, updated and cleared as versions of one id. */
export interface SiteCondition {
  id: string;
  version: number;
  time: string;
  site: string;
  /** `1` (a track), `1/left` (a scanner) or "" (the site). */
  device: string;
  kind: ConditionKind;
  state: "raised" | "cleared";
  raisedAt: string;
  evidence: string[];
  words: string;
  advice: string;
  alarm?: ConditionAlarm | undefined;
  priority?: ConditionPriority | undefined;
  /** All the sites that one condition is about, where that is more than one. */
  sites?: string[] | undefined;
  /** Who last acted on it, and why it is shelved or out of service. */
  by?: string | undefined;
  reason?: string | undefined;
  /** End of the shelf, or the day on which the site is to return to service. */
  until?: string | undefined;
}

/** How urgent each kind is: from "trains are not measured" down to "good to know". Assumption. */
export const PRIORITY: Readonly<Record<ConditionKind, ConditionPriority>> = {
  dead: "high",
  connection: "high",
  silent: "high",
  direction: "high",
  "not-announced": "high",
  "desk-not-told": "high",
  "cold-scanner": "high",
  "blind-scanner": "high",
  miscount: "medium",
  clock: "medium",
  drift: "medium",
  units: "medium",
  fault: "medium",
  snow: "medium",
  "self-test": "medium",
  "test-failed": "medium",
  "test-open": "medium",
  "never-alarms": "medium",
  "noisy-scanner": "medium",
  "report-disagrees": "low",
  late: "low",
  scale: "low",
  "alarms-often": "low",
  "test-due": "low",
  "test-overdue": "medium",
  "feed-quality": "low",
  "out-of-service": "information",
  sun: "information",
};

export const CONDITION_KINDS = Object.keys(PRIORITY) as ConditionKind[];
