import type { ServerResponse } from "node:http";
import type { Changed } from "../board/desk-state.ts";
import type { Row } from "../board/row.ts";
import type { Point } from "../board/trains.ts";
import type { Desk } from "../desk.ts";
import type { Listener } from "../hub.ts";
import { clockView } from "../views/clock-view.ts";

/** The page hears something at least so often; twice as long without, and it says that it is not live. */
export const CLOCK_EVERY_MS = 2_000;
/** A page that takes nothing for so long is gone. */
export const STALLED_MS = 30_000;

/** One message to the pages. */
export interface Changes {
  rows: Row[];
  sites: string[];
  tests: string[];
  points: Point[];
}

/**
 * One page's stream. Nothing is queued for it but what the socket holds: while that is full, the page's place in the ring
 * stands still, and what it then gets is joined.
 */
export class LiveStream implements Listener {
  at: number;
  private readonly desk: Desk;
  private readonly out: ServerResponse;
  private readonly timer: NodeJS.Timeout;
  private readonly closed: () => void;
  private fullSince: number | null = null;

  /** `closed` is called once, when the page is gone or was dropped. */
  constructor(desk: Desk, out: ServerResponse, from: number, closed: (stalled: boolean) => void) {
    this.desk = desk;
    this.out = out;
    this.at = from;
    let isOver = false;
    this.closed = () => {
      if (isOver) return;
      isOver = true;
      clearInterval(this.timer);
      desk.hub.leave(this);
      closed(this.fullSince !== null);
    };
    this.timer = setInterval(() => this.tell(), CLOCK_EVERY_MS);
    out.on("close", this.closed);
    out.on("drain", () => {
      this.fullSince = null;
      this.wake();
    });
  }

  /** Begins: the clock, then what was missed. `anew`: what was missed is not known any more. */
  open(anew: boolean): void {
    this.out.write("retry: 1000\n\n");
    if (anew) this.write("anew", {});
    this.tell();
    this.wake();
  }

  wake(): void {
    const { hub } = this.desk;
    if (this.out.writableNeedDrain || this.at === hub.last) return;
    const changes = hub.since(this.at);
    this.at = hub.last;
    if (changes === null) this.write("anew", {});
    else this.write("changes", this.asChanges(changes));
  }

  end(): void {
    this.closed();
    this.out.end();
  }

  private tell(): void {
    const now = performance.now();
    if (this.out.writableNeedDrain) {
      this.fullSince ??= now;
      if (now - this.fullSince > STALLED_MS) this.out.destroy();
      return;
    }
    const { desk } = this;
    this.write("clock", clockView(desk.state, desk.clock.nowMs(), desk.clock.speed));
  }

  private asChanges(changes: readonly Changed[]): Changes {
    const found: Changes = { rows: [], sites: [], tests: [], points: [] };
    for (const change of changes) {
      if (change.what === "point") found.points.push(change.point);
      else if (change.what === "site") found.sites.push(change.id);
      else if (change.what === "test") found.tests.push(change.id);
      else {
        const row = this.desk.state.board.row(change.id);
        if (row !== undefined) found.rows.push(row);
      }
    }
    return found;
  }

  private write(event: string, data: unknown): void {
    this.out.write(`event: ${event}\nid: ${this.desk.hub.epoch}-${this.at}\ndata: ${JSON.stringify(data)}\n\n`);
  }
}
