import type { Railroad } from "../../line/railroad.ts";
import type { DeskState } from "../board/desk-state.ts";
import type { Row } from "../board/row.ts";
import { needOf } from "../board/urgency.ts";
import type { ClockView } from "./clock-view.ts";
import type { Now } from "./now-shape.ts";

/** Rows in one answer; a page asks for the next ones. */
export const MOST_ROWS = 1_000;
/** Site conditions shown beside the warnings. */
const MOST_SITES = 100;

export interface NowQuery {
  from: number;
  count: number;
  closed: boolean;
}

/** What needs a decision, what is in hand and what is watched, in the order of what is left to act on. */
export function nowView(state: DeskState, railroad: Railroad, query: NowQuery, clock: ClockView, place: string): Now {
  const rows = state.board.rows(query.closed);
  const from = Math.min(query.from, rows.length);
  return {
    clock,
    place,
    total: rows.length,
    from,
    rows: rows.slice(from, from + Math.min(query.count, MOST_ROWS)),
    needs: countNeeds(rows),
    sites: state.sites
      .conditionList()
      // What nobody must answer is told on the sites' own page.
      .filter(({ priority }) => priority !== "information")
      .slice(0, MOST_SITES)
      .map(({ site, kind, words, raisedAt }) => ({
        site,
        name: railroad.sites.get(site)?.name ?? site,
        kind,
        words,
        raisedMs: Date.parse(raisedAt),
      })),
    unknownActions: state.board.forgotten,
  };
}

function countNeeds(rows: readonly Row[]): Now["needs"] {
  const needs = { decide: 0, "in-hand": 0, watch: 0, aside: 0, closed: 0 };
  for (const row of rows) needs[needOf(row)]++;
  return needs;
}
