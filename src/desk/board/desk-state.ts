import { takeLine } from "../../flow/line-announced.ts";
import type { Journey } from "../../journey/journey.ts";
import { type LineBook, ownLineBook } from "../../line/line-book.ts";
import type { Railroad } from "../../line/railroad.ts";
import { RuleBook } from "../../warning/rule-book.ts";
import { Board } from "./board.ts";
import type { DeskRecord } from "./desk-record.ts";
import { Sites } from "./sites.ts";
import { type Point, Trains } from "./trains.ts";

/** What a record changed, for those who watch live. */
export type Changed =
  | { what: "row"; id: string }
  | { what: "site"; id: string }
  | { what: "point"; point: Point }
  | { what: "test"; id: string };

/** Everything that the pages show, as of some record: a pure fold. The live state is one, and looking back folds another. */
export class DeskState {
  readonly board: Board;
  readonly sites: Sites;
  readonly trains: ReadonlyMap<string, Trains>;
  /** Latest event time of any data, and when its record came. Ages are told from these. */
  dataMs = Number.NEGATIVE_INFINITY;
  arrivedMs = Number.NEGATIVE_INFINITY;
  /** The railroad as known here, and as it stands at the time of the data. */
  readonly lines: LineBook;
  private readonly actionIds = new Set<string>();
  /** The rules as known here: those that the desk began with, and what was announced since. */
  readonly book: RuleBook;

  /** Railroad and rules stay as they are: what is announced goes into books of this state's own. */
  constructor(railroad: Railroad, begunWith: RuleBook) {
    this.lines = ownLineBook(railroad);
    const book = new RuleBook(begunWith.sets);
    this.book = book;
    this.board = new Board(book);
    this.sites = new Sites(this.lines, book);
    this.trains = new Map(this.lines.corridors.map(({ id }) => [id, new Trains(this.lines, id)]));
  }

  fold(record: DeskRecord): Changed[] {
    if (record.arrivedMs > this.arrivedMs) this.arrivedMs = record.arrivedMs;
    switch (record.kind) {
      case "warning":
        return this.board.warning(record.value, record.arrivedMs).map((id) => ({ what: "row", id }));
      case "action":
        this.acted(record.value.id);
        if (record.value.warning === undefined) return record.value.site === undefined ? [] : [{ what: "site", id: record.value.site }];
        return this.board.action(record.value, record.arrivedMs) ? [{ what: "row", id: record.value.warning }] : [];
      case "condition":
        return this.sites.condition(record.value) ? [{ what: "site", id: record.value.site }] : [];
      case "calibration":
        for (const trains of this.trains.values()) trains.calibration(record.value);
        return this.sites.calibration(record.value) ? [{ what: "site", id: record.value.site }] : [];
      case "pass":
        return this.pass(record);
      case "consist":
        for (const trains of this.trains.values()) trains.consist(record.value);
        return [];
      case "report": {
        this.heard(Date.parse(record.value.time));
        if (!this.sites.report(record.value)) return [];
        const test = record.value.type === "functional-test" || record.value.type === "equipment";
        return [{ what: test ? "test" : "site", id: record.value.site }];
      }
      case "rules":
        this.book.take(record.value.rules);
        return [];
      case "line":
        if (takeLine(record.value, this.lines) === "taken") this.sites.lineChanged();
        return [];
      case "test":
        return this.sites.tests.record(record.value) ? [{ what: "test", id: record.value.site }] : [];
    }
  }

  /** Whether an action is taken down already; the newest are remembered. */
  knowsAction(id: string): boolean {
    return this.actionIds.has(id);
  }

  /** A journey by its id, in whatever corridor. */
  journey(id: string): { journey: Journey; trains: Trains } | null {
    for (const trains of this.trains.values()) {
      const journey = trains.journey(id);
      if (journey !== null) return { journey, trains };
    }
    return null;
  }

  /** The line as it stands at a time: what is shown and reckoned ahead goes by it. */
  turn(timeMs: number): void {
    if (!this.lines.isSingle && this.lines.turn(timeMs)) this.sites.lineChanged();
  }

  private acted(id: string): void {
    this.actionIds.add(id);
    if (this.actionIds.size > MOST_ACTION_IDS) this.actionIds.delete(this.actionIds.values().next().value as string);
  }

  private pass({ value, corridor }: Extract<DeskRecord, { kind: "pass" }>): Changed[] {
    this.heard(value.endedMs);
    const isTests = this.sites.passed(value);
    // A pass is keyed by the corridor that folds it; under another key it goes to all that would.
    const to = this.trains.has(corridor) ? [corridor] : this.lines.corridorsOf(value.site);
    const points = to.flatMap((id) => (this.trains.get(id)?.pass(value) ?? []).map((point): Changed => ({ what: "point", point })));
    return isTests ? [{ what: "test", id: value.site }, ...points] : points;
  }

  private heard(timeMs: number): void {
    // A site's clock that is hours ahead must not make old data look fresh.
    if (timeMs > this.dataMs && timeMs <= this.arrivedMs + CLOCK_AHEAD_MS) {
      this.dataMs = timeMs;
      this.turn(timeMs);
    }
  }
}

/** Ids of actions remembered, so that one that is sent again does not act again. */
const MOST_ACTION_IDS = 50_000;

/** How far ahead of the log's clock an event time may be and still count as data that is fresh. Assumption. */
const CLOCK_AHEAD_MS = 10 * 60_000;
