import type { Railroad } from "../../line/railroad.ts";
import type { DeskState } from "../board/desk-state.ts";
import { measuresOf } from "../board/measures.ts";
import { operatorsOf } from "../board/operators.ts";
import type { WarningCase } from "../board/warning-case.ts";
import { actionWords } from "./action-words.ts";
import type { ClockView } from "./clock-view.ts";
import type { Handover } from "./handover-shape.ts";
import { conditionView, testsView } from "./sites-view.ts";

/** Events listed on the page; the export has them all. */
export const MOST_EVENTS = 2_000;
/** Open warnings listed, those most pressing first; Now has them all. */
export const MOST_OPEN = 1_000;

type Event = Handover["events"][number];

/** What the next shift has to know: what is open, what happened, how the desk was loaded. */
export function handoverView(
  state: DeskState,
  railroad: Railroad,
  fromMs: number,
  toMs: number,
  operators: number,
  clock: ClockView,
): Handover {
  const cases = [...state.board.all()];
  const events = eventsOf(state, railroad, fromMs, toMs);
  const open = state.board.rows();
  return {
    clock,
    measures: measuresOf(cases, fromMs, toMs, operators),
    operators: operatorsOf(cases, fromMs, toMs),
    open: open.slice(0, MOST_OPEN),
    moreOpen: Math.max(0, open.length - MOST_OPEN),
    events: events.slice(-MOST_EVENTS),
    more: Math.max(0, events.length - MOST_EVENTS),
    conditions: state.sites.conditionList().map((one) => ({ ...conditionView(one), name: railroad.sites.get(one.site)?.name ?? one.site })),
    tests: testsView(state, railroad).filter((run) => run.begunMs <= toMs && (run.endedMs ?? toMs) >= fromMs),
  };
}

/** Everything that happened in a window, in order: levels and states, actions, site conditions. */
export function eventsOf(state: DeskState, railroad: Railroad, fromMs: number, toMs: number): Event[] {
  const events: Event[] = [];
  for (const one of state.board.all()) events.push(...warningEvents(one, railroad));
  for (const condition of state.sites.conditionList(true)) {
    const name = railroad.sites.get(condition.site)?.name ?? condition.site;
    const about = condition.device === "" ? name : `${name} ${condition.device}`;
    const event = (timeMs: number, what: string): Event => ({ timeMs, what, about, warning: null, by: null, words: condition.words });
    events.push(event(Date.parse(condition.raisedAt), `site: ${condition.kind}`));
    if (condition.state === "cleared") events.push(event(Date.parse(condition.time), `site: ${condition.kind} cleared`));
  }
  return events
    .filter((event) => event.timeMs >= fromMs && event.timeMs <= toMs)
    .sort((a, b) => a.timeMs - b.timeMs || (a.about < b.about ? -1 : 1));
}

function warningEvents(one: WarningCase, railroad: Railroad): Event[] {
  const { last } = one;
  const about = `train ${last.train ?? "without an id"}, ${last.place}`;
  const events: Event[] = [];
  let level = "";
  let standing = "";
  for (const version of one.versions) {
    const site = railroad.sites.get(version.site)?.name ?? version.site;
    const rise = version.riseF === null ? "not measured" : `${Math.round(version.riseF)} °F above ambient`;
    const event = { timeMs: version.timeMs, about, warning: last.id, by: null };
    if (version.level !== level) events.push({ ...event, what: version.level, words: `${rise} at ${site}` });
    else if (version.state !== standing && (version.state === "cleared" || version.state === "withdrawn")) {
      events.push({ ...event, what: version.state, words: version.correction ? "a late pass changed what had been said" : "" });
    }
    level = version.level;
    standing = version.state;
  }
  for (const { action } of one.actions) {
    events.push({
      timeMs: Date.parse(action.time),
      what: action.action,
      about,
      warning: last.id,
      by: action.by,
      words: actionWords(action),
    });
  }
  return events;
}
