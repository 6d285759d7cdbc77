import type { ConditionKind, SiteCondition } from "./condition.ts";

/** No railroad has more at once; past it nothing new is raised and `overflowed` counts what was not. */
export const MOST_OPEN_CONDITIONS = 10_000;

/** How many pieces of evidence a condition carries; the newest are kept. */
const MOST_EVIDENCE = 5;

export interface Finding {
  site: string;
  /** `1`, `1/left` or "". */
  device: string;
  kind: ConditionKind;
  atMs: number;
  words: string;
  advice: string;
  evidence: string;
}

/** The open conditions of the sites: one per site, device and kind, raised and cleared as versions of one id. */
export class ConditionBook {
  private readonly open = new Map<string, SiteCondition>();
  private readonly publish: (condition: SiteCondition) => void;
  overflowed = 0;

  constructor(publish: (condition: SiteCondition) => void) {
    this.publish = publish;
  }

  /** Raises a condition, or adds evidence to an open one; a new version is published only when it is raised. */
  raise(finding: Finding): void {
    const key = keyOf(finding.site, finding.device, finding.kind);
    const standing = this.open.get(key);
    if (standing !== undefined) {
      standing.evidence = [...standing.evidence, finding.evidence].slice(-MOST_EVIDENCE);
      return;
    }
    if (this.open.size >= MOST_OPEN_CONDITIONS) {
      this.overflowed++;
      return;
    }
    const time = new Date(finding.atMs).toISOString();
    const condition: SiteCondition = {
      id: `C-${finding.site}-${finding.device.replace("/", "-") || "site"}-${finding.kind}-${time.replace(/[-:.]/g, "")}`,
      version: 1,
      time,
      site: finding.site,
      device: finding.device,
      kind: finding.kind,
      state: "raised",
      raisedAt: time,
      evidence: [finding.evidence],
      words: finding.words,
      advice: finding.advice,
    };
    this.open.set(key, condition);
    this.publish(snapshot(condition));
  }

  /** Clears a condition if it is open, with the reason as its last evidence. */
  clear(site: string, device: string, kind: ConditionKind, atMs: number, reason: string): void {
    const key = keyOf(site, device, kind);
    const standing = this.open.get(key);
    if (standing === undefined) return;
    this.open.delete(key);
    this.publish({
      ...standing,
      version: standing.version + 1,
      time: new Date(atMs).toISOString(),
      state: "cleared",
      evidence: [...standing.evidence, reason].slice(-MOST_EVIDENCE),
    });
  }

  isOpen(site: string, device: string, kind: ConditionKind): boolean {
    return this.open.has(keyOf(site, device, kind));
  }

  get openCount(): number {
    return this.open.size;
  }
}

function keyOf(site: string, device: string, kind: ConditionKind): string {
  return `${site} ${device} ${kind}`;
}

function snapshot(condition: SiteCondition): SiteCondition {
  return { ...condition, evidence: [...condition.evidence] };
}
