import type { DeskAction } from "../feed/record.ts";
import { type ConditionAlarm, type ConditionKind, PRIORITY, type SiteCondition } from "./condition.ts";

/** No railroad has more at once; past it nothing new is raised and `overflowed` counts what was not. */
export const MOST_OPEN_CONDITIONS = 10_000;

/** Conditions that are over and not yet answered, kept so that somebody can; the oldest go. */
export const MOST_RETURNED = 1_000;

/** How many pieces of evidence a condition carries; the newest are kept. */
const MOST_EVIDENCE = 5;

/** An open condition that goes on says so again no sooner than this. */
const UPDATE_EVERY_MS = 3_600_000;

const HOUR_MS = 3_600_000;

export interface Finding {
  site: string;
  /** `1`, `1/left` or "". */
  device: string;
  kind: ConditionKind;
  atMs: number;
  words: string;
  advice: string;
  evidence: string;
  sites?: string[];
  by?: string;
  reason?: string;
  until?: string;
}

/** An open condition as it stands. Plain data. */
export interface Standing {
  condition: SiteCondition;
  publishedMs: number;
  /** What the shelf ends with. */
  before: ConditionAlarm;
}

export interface ConditionBookState {
  open: Standing[];
  /** Over, and not answered. */
  returned: SiteCondition[];
}

/** Tells whether a device is out of service, so that nothing is judged about it. */
export type OutOfService = (site: string, device: string) => boolean;

/**
 * The open conditions of the sites: one per site, device and kind, raised, updated and cleared as versions of one id.
 *
 * ```
 *            raise                acknowledge
 *   normal ────────► unacknowledged ────────► acknowledged
 *     ▲                │    ▲   │                 │  │
 *     │                │    │   └── shelve ───┬───┘  │ clear
 *     │          clear │    └─ until, unshelve│      ▼
 *     │                ▼                   shelved ─► normal
 *     └── acknowledge ─ returned-unacknowledged
 * ```
 * A site out of service is not judged: nothing is raised about it, and what was open is cleared with that reason.
 */
export class ConditionBook {
  private readonly open = new Map<string, Standing>();
  private readonly returned = new Map<string, SiteCondition>();
  private readonly publish: (condition: SiteCondition) => void;
  private readonly isOutOfService: OutOfService;
  overflowed = 0;

  constructor(publish: (condition: SiteCondition) => void, isOutOfService: OutOfService = () => false) {
    this.publish = publish;
    this.isOutOfService = isOutOfService;
  }

  /** Raises a condition, or adds evidence to an open one, which says so again after an hour. */
  raise(finding: Finding): void {
    if (finding.kind !== "out-of-service" && this.isOutOfService(finding.site, finding.device)) return;
    const key = keyOf(finding.site, finding.device, finding.kind);
    const standing = this.open.get(key);
    if (standing !== undefined) {
      this.goOn(standing, finding);
      return;
    }
    if (this.open.size >= MOST_OPEN_CONDITIONS) {
      this.overflowed++;
      return;
    }
    const time = new Date(finding.atMs).toISOString();
    const { site, device, kind, words, advice, evidence, sites, by, reason, until } = finding;
    const priority = PRIORITY[kind];
    const condition: SiteCondition = {
      id: `C-${site}-${device.replaceAll("/", "-") || "site"}-${kind}-${time.replace(/[-:.]/g, "")}`,
      version: 1,
      time,
      site,
      device,
      kind,
      state: "raised",
      raisedAt: time,
      evidence: [evidence],
      words,
      advice,
      alarm: kind === "out-of-service" ? "out-of-service" : priority === "information" ? "acknowledged" : "unacknowledged",
      priority,
      ...(sites === undefined ? {} : { sites }),
      ...(by === undefined ? {} : { by }),
      ...(reason === undefined ? {} : { reason }),
      ...(until === undefined ? {} : { until }),
    };
    this.open.set(key, { condition, publishedMs: finding.atMs, before: condition.alarm! });
    this.publish(snapshot(condition));
  }

  private goOn(standing: Standing, finding: Finding): void {
    const { condition } = standing;
    const newSites = finding.sites !== undefined && finding.sites.join() !== condition.sites?.join();
    if (condition.evidence.at(-1) !== finding.evidence)
      condition.evidence = [...condition.evidence, finding.evidence].slice(-MOST_EVIDENCE);
    condition.words = finding.words;
    if (finding.sites !== undefined) condition.sites = finding.sites;
    if (!newSites && finding.atMs - standing.publishedMs < UPDATE_EVERY_MS) return;
    this.update(standing, finding.atMs, {});
  }

  /** Clears a condition if it is open, with the reason as its last evidence. */
  clear(site: string, device: string, kind: ConditionKind, atMs: number, reason: string): void {
    if (this.open.size === 0) return;
    const key = keyOf(site, device, kind);
    const standing = this.open.get(key);
    if (standing === undefined) return;
    this.open.delete(key);
    const { condition } = standing;
    const isAnswered = condition.alarm !== "unacknowledged";
    const over: SiteCondition = {
      ...condition,
      version: condition.version + 1,
      time: new Date(atMs).toISOString(),
      state: "cleared",
      evidence: [...condition.evidence, reason].slice(-MOST_EVIDENCE),
      alarm: isAnswered ? "normal" : "returned-unacknowledged",
    };
    if (!isAnswered) this.keepReturned(over);
    this.publish(snapshot(over));
  }

  /** Clears all that is open about a site, or about one device of it, but its being out of service. */
  clearAll(site: string, device: string, atMs: number, reason: string): void {
    for (const { condition } of [...this.open.values()]) {
      if (condition.site !== site || condition.kind === "out-of-service") continue;
      if (device === "" || condition.device === device || condition.device.startsWith(`${device}/`)) {
        this.clear(site, condition.device, condition.kind, atMs, reason);
      }
    }
  }

  /** What a person did about a condition by its id, or about all that is open at a site. Answers whether it changed anything. */
  act(action: DeskAction, shelveMaxHours: number): boolean {
    const atMs = Date.parse(action.time);
    let isChanged = false;
    for (const [key, standing] of [...this.open]) {
      if (!isMeant(action, standing.condition)) continue;
      if (this.actOn(key, standing, action, atMs, shelveMaxHours)) isChanged = true;
    }
    if (action.action !== "acknowledge") return isChanged;
    for (const [id, over] of [...this.returned]) {
      if (!isMeant(action, over)) continue;
      this.returned.delete(id);
      const { by } = action;
      this.publish({
        ...over,
        version: over.version + 1,
        time: new Date(Math.max(atMs, Date.parse(over.time))).toISOString(),
        alarm: "normal",
        by,
      });
      isChanged = true;
    }
    return isChanged;
  }

  private actOn(_key: string, standing: Standing, action: DeskAction, atMs: number, shelveMaxHours: number): boolean {
    const { condition } = standing;
    const { by } = action;
    switch (action.action) {
      case "acknowledge":
        if (condition.alarm !== "unacknowledged") return false;
        this.update(standing, atMs, { alarm: "acknowledged", by });
        return true;
      case "shelve": {
        const until = shelfEnd(action, atMs, shelveMaxHours);
        if (until === null || condition.alarm === "shelved" || condition.kind === "out-of-service") return false;
        standing.before = condition.alarm ?? "unacknowledged";
        this.update(standing, atMs, { alarm: "shelved", by, reason: action.text, until });
        return true;
      }
      case "unshelve":
        return this.unshelve(standing, atMs, by);
      default:
        return false;
    }
  }

  private unshelve(standing: Standing, atMs: number, by: string | undefined): boolean {
    if (standing.condition.alarm !== "shelved") return false;
    this.update(standing, atMs, { alarm: standing.before, until: undefined, ...(by === undefined ? {} : { by }) });
    return true;
  }

  /** Time has come to `nowMs`: shelves end by themselves. */
  tick(nowMs: number): void {
    for (const standing of this.open.values()) {
      const { alarm, until } = standing.condition;
      if (alarm === "shelved" && until !== undefined && Date.parse(until) <= nowMs) this.unshelve(standing, nowMs, undefined);
    }
  }

  private update(standing: Standing, atMs: number, change: Partial<SiteCondition>): void {
    const { condition } = standing;
    Object.assign(condition, change);
    condition.version++;
    condition.time = new Date(Math.max(atMs, Date.parse(condition.time))).toISOString();
    standing.publishedMs = atMs;
    this.publish(snapshot(condition));
  }

  private keepReturned(over: SiteCondition): void {
    this.returned.set(over.id, over);
    if (this.returned.size > MOST_RETURNED) this.returned.delete(this.returned.keys().next().value as string);
  }

  isOpen(site: string, device: string, kind: ConditionKind): boolean {
    return this.open.size > 0 && this.open.has(keyOf(site, device, kind));
  }

  /** Open conditions of a site, in the order in which they were raised. */
  openAt(site: string): SiteCondition[] {
    return [...this.open.values()].map(({ condition }) => condition).filter((condition) => condition.site === site);
  }

  get openCount(): number {
    return this.open.size;
  }

  state(): ConditionBookState {
    return { open: [...this.open.values()], returned: [...this.returned.values()] };
  }

  restore(state: ConditionBookState): void {
    const { open, returned } = structuredClone(state);
    this.open.clear();
    for (const standing of open)
      this.open.set(keyOf(standing.condition.site, standing.condition.device, standing.condition.kind), standing);
    this.returned.clear();
    for (const over of returned) this.returned.set(over.id, over);
  }
}

/** End of the shelf that is asked for, at most what the rules allow; null without a reason, an end, or with one that is past. */
function shelfEnd(action: DeskAction, atMs: number, shelveMaxHours: number): string | null {
  if (action.text === undefined || action.text === "" || action.until === undefined) return null;
  const untilMs = Math.min(Date.parse(action.until), atMs + shelveMaxHours * HOUR_MS);
  return untilMs > atMs ? new Date(untilMs).toISOString() : null;
}

function isMeant(action: DeskAction, condition: SiteCondition): boolean {
  if (action.condition !== undefined) return action.condition === condition.id;
  if (action.site !== condition.site) return false;
  return action.device === undefined || action.device === condition.device;
}

function keyOf(site: string, device: string, kind: ConditionKind): string {
  return `${site} ${device} ${kind}`;
}

function snapshot(condition: SiteCondition): SiteCondition {
  return { ...condition, evidence: [...condition.evidence], ...(condition.sites === undefined ? {} : { sites: [...condition.sites] }) };
}
