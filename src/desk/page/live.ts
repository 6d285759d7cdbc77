import type { Row } from "../board/row.ts";
import type { Changes } from "../server/live-stream.ts";
import type { ClockView } from "../views/clock-view.ts";
import type { Session } from "../views/session-shape.ts";
import { announce, sound } from "./announcer.ts";
import { get } from "./api.ts";
import { nowOf } from "./clock.ts";
import { loudestOf, News, spokenOf } from "./news.ts";
import { store } from "./store.ts";

/** The server says something every 2 s; after so long without, the page is not live. */
const SILENCE_MS = 5_000;
const CHECK_MS = 500;
/** Between tries after the browser gave up by itself. */
const RETRY_MS = 1_500;

/** Keeps the page up to date, and says at once when it is not. */
export class Live {
  private source: EventSource | null = null;
  private heardAt = performance.now();
  private isTrying = false;
  private isAskedAgain = false;
  private readonly news = new News();

  start(): void {
    store.reload = () => void this.begin();
    store.loadedRows = (rows, isAll) => {
      // What there is when the page opens was there before it; what is there after a gap may be new.
      this.tell(rows, this.news.isComplete);
      if (isAll) this.news.isComplete = true;
    };
    setInterval(() => this.check(), CHECK_MS);
    addEventListener("offline", () => this.lost());
    addEventListener("online", () => void this.begin());
    void this.begin();
  }

  /** Loads everything and listens from there on. */
  async begin(): Promise<void> {
    this.isAskedAgain = this.isTrying;
    if (this.isTrying) return;
    this.isTrying = true;
    try {
      this.listen(await store.loadRows());
    } catch {
      this.lost();
      await this.askWho();
      setTimeout(() => void this.begin(), RETRY_MS);
    } finally {
      this.isTrying = false;
    }
    if (this.isAskedAgain) void this.begin();
  }

  private listen(place: string): void {
    this.source?.close();
    const source = new EventSource(`/api/live?after=${encodeURIComponent(place)}`);
    this.source = source;
    source.addEventListener("clock", (event) => {
      this.heard();
      store.hear(JSON.parse(event.data as string) as ClockView);
      store.changed();
    });
    source.addEventListener("changes", (event) => {
      this.heard();
      this.take(JSON.parse(event.data as string) as Changes);
    });
    source.addEventListener("anew", () => {
      this.heardAt = performance.now();
      void this.begin();
    });
    source.addEventListener("error", () => {
      if (this.source !== source) return;
      this.lost();
      // The browser tries again by itself after a lost connection, not after a refusal.
      if (source.readyState === EventSource.CLOSED) setTimeout(() => void this.begin(), RETRY_MS);
    });
  }

  private heard(): void {
    this.heardAt = performance.now();
    if (store.notLiveSince !== null) {
      store.notLiveSince = null;
      announce("The desk is live again.");
      store.changed();
    }
  }

  private take(changes: Changes): void {
    if (store.at === null) {
      for (const row of changes.rows) store.rows.put(row);
      if (changes.sites.length > 0) void this.siteNotes();
    }
    // Who looks back is still at the desk.
    this.tell(changes.rows, true);
    store.addPoints(changes.points);
    if (changes.sites.length > 0) store.sitesVersion++;
    if (changes.tests.length > 0) store.testsVersion++;
    store.changed();
  }

  /** Takes rows for known; aloud: says what of them is news. */
  private tell(rows: readonly Row[], isAloud: boolean): void {
    const told = rows.flatMap((row) => this.news.take(row) ?? []);
    if (!isAloud) return;
    for (const { words, urgent } of spokenOf(told, (site) => store.siteName(site))) announce(words, urgent);
    const loudest = loudestOf(told);
    if (loudest !== null) sound(loudest);
  }

  private async siteNotes(): Promise<void> {
    try {
      const now = await get<{ sites: typeof store.siteNotes }>("/api/now", { from: 0, count: 1 });
      if (store.at !== null) return;
      store.siteNotes = now.sites;
      store.changed();
    } catch {
      // The next change asks again.
    }
  }

  private check(): void {
    if (performance.now() - this.heardAt > SILENCE_MS) this.lost();
  }

  private lost(): void {
    if (store.notLiveSince !== null) return;
    store.notLiveSince = nowOf(store.clock) - (performance.now() - this.heardAt) * store.clock.speed;
    announce("Not live: the connection to the desk's server is lost.", true);
    store.changed();
  }

  /** A session may be over: then the page asks to sign in. */
  private async askWho(): Promise<void> {
    try {
      const session = await get<Session>("/api/session");
      if (session.person === null) location.reload();
    } catch {
      // Still no connection.
    }
  }
}
