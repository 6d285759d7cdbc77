import { useEffect, useReducer } from "preact/hooks";
import type { Row } from "../board/row.ts";
import type { Point } from "../board/trains.ts";
import type { ClockView } from "../views/clock-view.ts";
import type { Now } from "../views/now-shape.ts";
import type { Session } from "../views/session-shape.ts";
import { type ApiError, get } from "./api.ts";
import { heard, nowOf, type PageClock } from "./clock.ts";
import { applyTheme, keepOptions, type Options, optionsOf } from "./options.ts";
import { OrderedRows } from "./ordered-rows.ts";
import { readable } from "./readable.ts";

/** Rows asked for at once: the first are what is seen first, the rest come behind them. */
const FIRST_ROWS = 100;
const NEXT_ROWS = 500;

/** Between tries for rows that could not be had. */
const AGAIN_MS = 3_000;

/** Points that came in live, for the line's page. */
const MOST_POINTS = 5_000;

/** Everything the pages know, and who wants to hear when it changes. */
export class Store {
  session: Session | null = null;
  options: Options = optionsOf("");
  clock: PageClock = { nowMs: Date.now(), speed: 1, dataMs: null, lacks: [], heardAt: performance.now() };
  /** null: live. Else the desk time of the last word from the server. */
  notLiveSince: number | null = null;
  readonly rows = new OrderedRows();
  /** The first rows of what is shown are here; before, nothing may be said of what there is to decide. */
  loaded = false;
  /** Rows are all here. */
  complete = false;
  /** Loads all anew, listens from there on, and tries again until it can; set by whoever keeps the page live. */
  reload: () => void = () => {};
  /** Told of rows of now that were loaded, and whether these were the last of them; set by whoever tells news. */
  loadedRows: (rows: readonly Row[], isAll: boolean) => void = () => {};
  siteNotes: Now["sites"] = [];
  /** Rise whenever something of the kind changed: pages that show it ask again. */
  sitesVersion = 0;
  testsVersion = 0;
  points: Point[] = [];
  pointsVersion = 0;
  /** What the log no longer holds of the time that is looked back to. */
  lacks: ClockView["lacks"] = [];
  /** Looking back to this time; null: now. */
  at: number | null = null;
  /** A reason for which the desk cannot be shown; null: none. */
  failed: string | null = null;
  private readonly listeners = new Set<() => void>();
  private loading = 0;
  private names: ReadonlyMap<string, string> = new Map();

  subscribe(listener: () => void): () => void {
    this.listeners.add(listener);
    return () => this.listeners.delete(listener);
  }

  changed(): void {
    for (const listener of this.listeners) listener();
  }

  get zone(): string {
    return this.session?.railroad.timeZone ?? "UTC";
  }

  /** Desk time, or the time looked back to. */
  now(): number {
    return this.at ?? this.liveNow();
  }

  /** Desk time, whatever is looked back to. */
  liveNow(): number {
    return nowOf(this.clock);
  }

  /** Looks back to a time, or returns to now: every page asks anew. */
  lookAt(at: number | null): void {
    this.at = at;
    // What stands now must not be read as what stood then, nor the other way round.
    this.rows.clear();
    this.loaded = false;
    this.complete = false;
    this.siteNotes = [];
    this.sitesVersion++;
    this.testsVersion++;
    this.lacks = [];
    this.failed = null;
    this.changed();
    // What came live meanwhile is newer than the answer: it is listened to again from the answer's own place.
    if (at === null) {
      this.reload();
      return;
    }
    void this.loadRows().catch((error: ApiError) => {
      this.failed = error.message;
      this.changed();
    });
  }

  siteName(site: string): string {
    return this.names.get(site) ?? site;
  }

  /** Prose of the records with sites by their names and times by the railroad's clocks. */
  readable(prose: string): string {
    return readable(prose, { zone: this.zone, nowMs: this.now(), names: this.names });
  }

  hear(clock: ClockView): void {
    this.clock = heard(clock);
  }

  setSession(session: Session): void {
    this.session = session;
    this.names = new Map(session.sites.map(({ site, name }) => [site, name]));
    this.hear(session.clock);
    this.options = optionsOf(session.person?.name ?? "");
    applyTheme(this.options.theme);
    this.changed();
  }

  setOptions(change: Partial<Options>): void {
    this.options = { ...this.options, ...change };
    keepOptions(this.session?.person?.name ?? "", this.options);
    applyTheme(this.options.theme);
    this.changed();
  }

  /** All rows anew, the most urgent first. Returns the place in the stream from which live updates go on. */
  async loadRows(): Promise<string> {
    const turn = ++this.loading;
    const first = await get<Now>("/api/now", { from: 0, count: FIRST_ROWS, at: this.at });
    if (turn !== this.loading) return first.place;
    this.rows.clear();
    this.take(first);
    this.loaded = true;
    this.failed = null;
    this.complete = first.rows.length >= first.total;
    if (this.at === null) this.loadedRows(first.rows, this.complete);
    this.changed();
    if (!this.complete) void this.loadRest(turn, first.rows.length, first.total);
    return first.place;
  }

  private async loadRest(turn: number, from: number, total: number): Promise<void> {
    try {
      for (let next = from; next < total; next += NEXT_ROWS) {
        const more = await get<Now>("/api/now", { from: next, count: NEXT_ROWS, at: this.at });
        if (turn !== this.loading) return;
        for (const row of more.rows) this.rows.put(row);
        if (this.at === null) this.loadedRows(more.rows, false);
        this.changed();
      }
      this.complete = true;
      if (this.at === null) this.loadedRows([], true);
      this.changed();
    } catch (error) {
      if (turn !== this.loading) return;
      this.failed = `Not all warnings are here: ${(error as ApiError).message}`;
      this.changed();
      if (this.at === null) setTimeout(() => turn === this.loading && this.reload(), AGAIN_MS);
    }
  }

  private take(now: Now): void {
    for (const row of now.rows) this.rows.put(row);
    if (this.at === null) this.hear(now.clock);
    this.siteNotes = now.sites;
    this.lacks = now.clock.lacks;
  }

  addPoints(points: readonly Point[]): void {
    if (points.length === 0) return;
    this.points = [...this.points, ...points].slice(-MOST_POINTS);
    this.pointsVersion++;
  }
}

export const store = new Store();

/** The component is drawn again whenever the store changes. */
export function useStore(): Store {
  const [, draw] = useReducer((count: number) => count + 1, 0);
  useEffect(() => store.subscribe(() => draw(undefined)), []);
  return store;
}

/** Drawn again every so many milliseconds: for ages and distances that run on by themselves. */
export function useTicking(everyMs: number): void {
  const [, draw] = useReducer((count: number) => count + 1, 0);
  useEffect(() => {
    const timer = setInterval(() => draw(undefined), everyMs);
    return () => clearInterval(timer);
  }, [everyMs]);
}
