export type ConditionKind =
  | "dead"
  | "silent"
  | "direction"
  | "miscount"
  | "scale"
  | "clock"
  | "drift"
  | "cold-scanner"
  | "sun"
  | "units"
  | "fault"
  | "feed-quality";

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
}
