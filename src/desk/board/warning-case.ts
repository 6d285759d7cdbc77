import type { DeskAction } from "../../feed/record.ts";
import { act, normal, orderedActions, type Stand } from "../../warning/lifecycle.ts";
import type { RuleBook } from "../../warning/rule-book.ts";
import type { Level, Warning } from "../../warning/warning.ts";
import { mphOf, type Row, vehicleWords } from "./row.ts";

/** Versions and actions remembered of one warning; the first version always is. The log has them all. */
export const MOST_VERSIONS = 100;
export const MOST_ACTIONS = 200;

/** One version in the history of a warning. */
export interface VersionNote {
  version: number;
  timeMs: number;
  arrivedMs: number;
  level: Level;
  state: Warning["state"];
  riseF: number | null;
  axleDifference: Row["axleDifference"];
  critical: boolean;
  site: string;
  correction: boolean;
}

export interface ActionNote {
  action: DeskAction;
  arrivedMs: number;
}

const RANK: Record<Level, number> = { watch: 0, warn: 1, limit: 2 };

/** Below this chance a vehicle's place is told as "about", as in the words for the crew. */
const SURE = 0.9;

/** Everything the desk knows of one warning: its versions and what people did. Whatever order they come in, it ends the same. */
export class WarningCase {
  last: Warning;
  lastArrivedMs: number;
  readonly versions: VersionNote[] = [];
  readonly actions: ActionNote[] = [];
  private row: Row | null = null;
  private same: readonly string[] = [];
  private leads = true;
  private readonly book: RuleBook;

  constructor(warning: Warning, arrivedMs: number, book: RuleBook) {
    this.last = warning;
    this.lastArrivedMs = arrivedMs;
    this.book = book;
    this.note(warning, arrivedMs);
  }

  /** A version; false when it was known. */
  say(warning: Warning, arrivedMs: number): boolean {
    if (this.versions.some((one) => one.version === warning.version)) return false;
    this.note(warning, arrivedMs);
    if (warning.version > this.last.version) {
      this.last = warning;
      this.lastArrivedMs = arrivedMs;
    }
    return true;
  }

  /** An action; false when it was known or there are too many. */
  act(action: DeskAction, arrivedMs: number): boolean {
    if (this.actions.some((one) => one.action.id === action.id)) return false;
    if (this.actions.length >= MOST_ACTIONS) return false;
    this.actions.push({ action, arrivedMs });
    this.row = null;
    return true;
  }

  /** Warnings of the same bearing in other corridors; whether this one speaks for them. Answers whether that is news. */
  setSame(same: readonly string[], leads: boolean): boolean {
    if (this.leads === leads && same.length === this.same.length && same.every((id, i) => id === this.same[i])) return false;
    this.same = same;
    this.leads = leads;
    this.row = null;
    return true;
  }

  asRow(): Row {
    this.row ??= this.compose();
    return this.row;
  }

  private note(warning: Warning, arrivedMs: number): void {
    const { version, level, state, riseF, axleDifference = null, critical = false, site, correction } = warning;
    const note = { version, timeMs: Date.parse(warning.time), arrivedMs, level, state, riseF, axleDifference, critical, site, correction };
    let at = this.versions.length;
    while (at > 0 && this.versions[at - 1]!.version > version) at--;
    this.versions.splice(at, 0, note);
    if (this.versions.length > MOST_VERSIONS) this.versions.splice(1, 1);
    this.row = null;
  }

  private compose(): Row {
    const { last } = this;
    const ordered = orderedActions(this.actions.map((one) => one.action));
    const stand = this.standAfter();
    const first = this.versions[0]!;
    return {
      id: last.id,
      version: last.version,
      actions: this.actions.length,
      level: last.level,
      state: last.state === "withdrawn" ? "withdrawn" : stand.state,
      pending: last.state !== "withdrawn" && stand.state !== last.state,
      correction: last.correction,
      train: last.train,
      journey: last.journey,
      corridor: last.corridor,
      site: last.site,
      track: last.track,
      vehicle: vehicleWords(last.vehicle),
      vehicleId: last.vehicle?.id ?? null,
      about: last.place.startsWith("about ") || (last.vehicle !== null && last.vehicle.confidence < SURE),
      place: last.place,
      axle: last.axle,
      side: last.side,
      heat: last.heat,
      riseF: last.riseF,
      slopeFPerMile: last.slopeFPerMile,
      limitF: last.limitF,
      axleDifference: this.axleDifference(),
      critical: last.level === "limit" && this.versions.some((one) => one.critical),
      timeMs: Date.parse(last.evidence.at(-1)?.time ?? last.time),
      readMs: readMsOf(last),
      mph: mphOf(last),
      crossing: crossingOf(last),
      chanceNextSite: chanceOf(last),
      setOut: setOutOf(last),
      lastSeenMiles: last.lastSeenMiles,
      owner: ownerOf(ordered),
      done: doneOf(ordered, this.escalatedMs()),
      shelvedUntilMs: stand.shelf?.untilMs ?? null,
      raisedMs: first.timeMs,
      escalatedMs: this.escalatedMs(),
      advice: last.advice,
      caution: last.caution,
      same: [...this.same],
      leads: this.leads,
    };
  }

  /** As last read; where it reads lower by now, as when the limit was reached. Over its own limit that one is told. */
  private axleDifference(): Row["axleDifference"] {
    const { level, riseF, limitF, axleDifference } = this.last;
    if (level !== "limit" || (riseF !== null && riseF >= limitF)) return null;
    return axleDifference ?? this.versions.find((one) => one.level === "limit")?.axleDifference ?? null;
  }

  /** When the level last rose. */
  private escalatedMs(): number {
    let at = this.versions[0]!;
    for (const version of this.versions) if (RANK[version.level] > RANK[at.level]) at = version;
    return at.timeMs;
  }

  /** The life of the last version, and on it the actions that it cannot have known: by the same rules as the engine's own. */
  private standAfter(): Stand {
    const { last } = this;
    let shelf: Stand["shelf"] = null;
    if (last.state === "shelved") {
      const asked = this.actions.findLast(({ action }) => action.action === "shelve")?.action.until;
      shelf = { untilMs: asked === undefined ? Number.POSITIVE_INFINITY : Date.parse(asked), from: "acknowledged" };
    }
    const state = last.state === "withdrawn" ? "cleared" : last.state;
    const timeMs = Date.parse(last.time);
    let stand: Stand = { ...normal(), level: last.level, state, sinceMs: timeMs, decidedMs: timeMs, shelf };
    const later = this.actions.filter((one) => one.arrivedMs >= this.lastArrivedMs).map((one) => one.action);
    for (const action of orderedActions(later)) stand = act(stand, action, Math.max(timeMs, Date.parse(action.time)), this.book);
    return stand;
  }
}

function readMsOf({ evidence, riseF, time }: Warning): number | null {
  const read = evidence.findLast((one) => one.riseF !== null);
  if (read !== undefined) return Date.parse(read.time);
  return riseF === null ? null : Date.parse(time);
}

function crossingOf({ crossing }: Warning): Row["crossing"] {
  if (crossing === null) return null;
  const { low, miles, high, milepost, line, chance } = crossing;
  return { low, miles, high, milepost, line, chance };
}

/** Where nothing was reckoned the engine says 0 of everything. */
function chanceOf({ level, chances }: Warning): number | null {
  return level === "limit" || Object.values(chances).every((value) => value === 0) ? null : chances.beforeNextSite;
}

function setOutOf({ setOut }: Warning): Row["setOut"] {
  if (setOut === null) return null;
  const { name, miles, milepost, carLengths } = setOut;
  return { name, miles, milepost, carLengths };
}

function ownerOf(ordered: readonly DeskAction[]): string | null {
  const assigned = ordered.findLast((one) => one.action === "assign");
  return assigned?.to ?? ordered.findLast((one) => one.action === "acknowledge")?.by ?? null;
}

/** What was done before the level last rose does not answer it: the crew must be told again. */
function doneOf(ordered: readonly DeskAction[], sinceMs: number): Row["done"] {
  const last = ordered.findLast((one) => one.done !== undefined && Date.parse(one.time) >= sinceMs);
  return last?.done === undefined ? null : { what: last.done, by: last.by, timeMs: Date.parse(last.time) };
}
