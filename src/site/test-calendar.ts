import type { FunctionalTestRecord } from "./functional-test.ts";
import type { WatchContext } from "./watch-context.ts";

interface Due {
  /** First time anything of the site was heard: what is counted from until a test is known. */
  firstMs: number | null;
  passedMs: number | null;
  /** Since when a test is asked for, and why; null: only the calendar asks. */
  asked: { ms: number; why: string } | null;
}

/** By `site/track`. */
export type TestCalendarState = Record<string, Due>;

const DAY_MS = 24 * 3_600_000;

/** When each track of each site is to be tested: by the railroad's calendar, and after anything that looks like work on it. */
export class TestCalendar {
  private readonly context: WatchContext;
  private readonly dues = new Map<string, Due>();

  constructor(context: WatchContext) {
    this.context = context;
    this.addOwned();
  }

  /** The sites that are owned may change while this runs. */
  private addOwned(): void {
    const { owned, railroad } = this.context;
    for (const site of owned) {
      for (const { id } of railroad.sites.get(site)?.tracks ?? []) {
        const key = `${site}/${id}`;
        if (!this.dues.has(key)) this.dues.set(key, { firstMs: null, passedMs: null, asked: null });
      }
    }
  }

  /** A site, or one track of it, is not on the line any more. */
  gone(site: string, track: string): void {
    for (const key of this.dues.keys()) if (track === "" ? key.startsWith(`${site}/`) : key === `${site}/${track}`) this.dues.delete(key);
  }

  /** A finished test. */
  tested(record: FunctionalTestRecord): void {
    const due = this.dues.get(`${record.site}/${record.track}`);
    if (due === undefined || record.closed !== "ended") return;
    const atMs = Date.parse(record.time);
    const { book } = this.context;
    if (record.result === "failed") {
      book.raise({
        site: record.site,
        device: record.track,
        kind: "test-failed",
        atMs,
        words: record.words,
        advice: "Do not leave the site before its devices answer: mend what failed and test again.",
        evidence: `test ${record.id}`,
      });
      return;
    }
    if (due.passedMs === null || atMs > due.passedMs) due.passedMs = atMs;
    if (due.asked !== null && due.asked.ms <= Date.parse(record.begunAt)) due.asked = null;
    for (const kind of ["test-failed", "test-overdue", "test-open"] as const)
      book.clear(record.site, record.track, kind, atMs, `test ${record.id} was passed`);
    if (due.asked === null) book.clear(record.site, record.track, "test-due", atMs, `test ${record.id} was passed`);
  }

  /** Counts, direction or calibration jumped, as after work on the track: a test is asked for at once. */
  ask(site: string, track: string, ms: number, why: string): void {
    const due = this.dues.get(`${site}/${track}`);
    if (due === undefined || due.asked !== null) return;
    due.asked = { ms, why };
    this.context.book.raise({
      site,
      device: track,
      kind: "test-due",
      atMs: ms,
      words: `A functional test of ${this.context.said.track(site, track)} is asked for: ${why}, as after work on the track.`,
      advice: "Prove direction, left and right, wheel count, and the alarm to the crew AND to the desk.",
      evidence: `${why} at ${this.context.said.time(ms)}`,
    });
  }

  /** Once an hour. */
  tick(nowMs: number): void {
    const { everyDays, dueSoonDays } = this.context.rulesAt(nowMs).tests;
    if (everyDays === 0) return;
    this.addOwned();
    for (const [key, due] of this.dues) {
      due.firstMs ??= nowMs;
      const fromMs = due.passedMs ?? due.firstMs;
      const daysLeft = everyDays - (nowMs - fromMs) / DAY_MS;
      const [site, track] = key.split("/") as [string, string];
      if (daysLeft < 0) this.raise(site, track, "test-overdue", due, nowMs, daysLeft);
      else if (daysLeft < dueSoonDays) this.raise(site, track, "test-due", due, nowMs, daysLeft);
    }
  }

  private raise(site: string, track: string, kind: "test-due" | "test-overdue", due: Due, nowMs: number, daysLeft: number): void {
    const { book } = this.context;
    if (kind === "test-overdue" && due.asked === null) book.clear(site, track, "test-due", nowMs, "it is overdue now");
    if (book.isOpen(site, track, kind)) return;
    const last =
      due.passedMs === null
        ? `none is known since ${this.context.said.time(due.firstMs ?? nowMs)}`
        : `the last was passed at ${this.context.said.time(due.passedMs)}`;
    const when = kind === "test-overdue" ? "is overdue" : `is due within ${Math.ceil(daysLeft)} days`;
    book.raise({
      site,
      device: track,
      kind,
      atMs: nowMs,
      words: `The functional test of ${this.context.said.track(site, track)} ${when}: ${last}.`,
      advice: "Plan the test: every device must answer, and the alarm must reach the crew and the desk.",
      evidence: last,
    });
  }

  /** When the next test is due by the calendar, and what else asks for one. For showing. */
  next(site: string, track: string, nowMs: number): { dueMs: number | null; passedMs: number | null; asked: string | null } {
    const due = this.dues.get(`${site}/${track}`);
    const fromMs = due?.passedMs ?? due?.firstMs ?? null;
    const { everyDays } = this.context.rulesAt(nowMs).tests;
    return {
      dueMs: fromMs === null || everyDays === 0 ? null : fromMs + everyDays * DAY_MS,
      passedMs: due?.passedMs ?? null,
      asked: due?.asked?.why ?? null,
    };
  }

  state(): TestCalendarState {
    return Object.fromEntries(this.dues);
  }

  restore(state: TestCalendarState): void {
    for (const [key, due] of Object.entries(state)) if (this.dues.has(key)) this.dues.set(key, structuredClone(due));
  }
}
