import { alarmsOf, floodsOf, judged, type Measures, minutesBetween, STALE_MS, WINDOW_MS } from "./measures.ts";
import { needOf } from "./urgency.ts";
import type { WarningCase } from "./warning-case.ts";

const DAY_MS = 24 * 3_600_000;
/** People listed, those with the most alarms first. */
const MOST_OPERATORS = 50;

/** How loaded one person was, by the measures of IEC 62682 and EEMUA 191 [S]; `name` null: alarms that nobody answered. */
export interface OperatorMeasures {
  name: string | null;
  /** Alarms of the window that this person answered first. */
  alarms: number;
  perWindow: number;
  perDay: number;
  mostInWindow: number;
  floods: number;
  /** Open warnings that this person has; of them open for over a day, and shelved. */
  holds: number;
  stale: number;
  shelved: number;
  minutesToAnswer: number | null;
  judgement: Measures["judgement"];
}

interface Load {
  times: number[];
  minutes: number[];
  holds: number;
  stale: number;
  shelved: number;
}

/** The load of each person in a window, the most loaded first, and last what nobody answered. */
export function operatorsOf(cases: Iterable<WarningCase>, fromMs: number, toMs: number): OperatorMeasures[] {
  const loads = new Map<string | null, Load>();
  const loadOf = (name: string | null): Load => {
    let load = loads.get(name);
    if (load === undefined) {
      load = { times: [], minutes: [], holds: 0, stale: 0, shelved: 0 };
      loads.set(name, load);
    }
    return load;
  };
  for (const one of cases) {
    for (const { alarmMs, name, answeredMs } of answersOf(one, fromMs, toMs)) {
      const load = loadOf(name);
      load.times.push(alarmMs);
      if (answeredMs !== null) load.minutes.push(minutesBetween(alarmMs, answeredMs));
    }
    const row = one.asRow();
    if (needOf(row) === "closed") continue;
    const load = loadOf(row.owner);
    load.holds++;
    if (toMs - row.raisedMs > STALE_MS) load.stale++;
    if (row.state === "shelved") load.shelved++;
  }
  const all = [...loads].map(([name, load]) => measured(name, load, fromMs, toMs));
  // Nobody is not one of the people: what was not answered is told however many they are.
  const people = all.filter(({ name }) => name !== null).sort(byLoad);
  return [...people.slice(0, MOST_OPERATORS), ...all.filter(({ name }) => name === null)];
}

/** Who answered each alarm of a warning: the first to do anything about it before the next alarm of the same warning came. */
function answersOf(one: WarningCase, fromMs: number, toMs: number): { alarmMs: number; name: string | null; answeredMs: number | null }[] {
  const alarms = alarmsOf(one);
  const actions = one.actions
    .map(({ action }) => ({ timeMs: Date.parse(action.time), name: action.action === "assign" ? (action.to ?? action.by) : action.by }))
    .sort((a, b) => a.timeMs - b.timeMs);
  return alarms.flatMap((alarmMs, i) => {
    if (alarmMs < fromMs || alarmMs > toMs) return [];
    const untilMs = Math.min(alarms[i + 1] ?? Number.POSITIVE_INFINITY, toMs);
    const answer = actions.find(({ timeMs }) => timeMs >= alarmMs && timeMs <= untilMs);
    return [{ alarmMs, name: answer?.name ?? null, answeredMs: answer?.timeMs ?? null }];
  });
}

function measured(name: string | null, { times, minutes, holds, stale, shelved }: Load, fromMs: number, toMs: number): OperatorMeasures {
  times.sort((a, b) => a - b);
  minutes.sort((a, b) => a - b);
  const { floods, mostInWindow } = floodsOf(times);
  const perWindow = times.length / Math.max(1, (toMs - fromMs) / WINDOW_MS);
  const perDay = times.length / (Math.max(toMs - fromMs, WINDOW_MS) / DAY_MS);
  return {
    name,
    alarms: times.length,
    perWindow,
    perDay,
    mostInWindow,
    floods: floods.length,
    holds,
    stale,
    shelved,
    minutesToAnswer: minutes[Math.floor(minutes.length / 2)] ?? null,
    judgement: judged(perWindow, perDay),
  };
}

function byLoad(a: OperatorMeasures, b: OperatorMeasures): number {
  return b.alarms - a.alarms || b.holds - a.holds || ((a.name ?? "") < (b.name ?? "") ? -1 : 1);
}
