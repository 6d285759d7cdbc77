import type { Row } from "../board/row.ts";
import { needOf } from "../board/urgency.ts";
import type { OneWarning } from "../views/warning-shape.ts";

type SetOut = OneWarning["setOuts"][number];
type Seen = Pick<OneWarning, "setOuts" | "sitesAhead" | "mph"> & { row: Row };

/** Where the train is by now, as against what was said when the bearing was last read. */
export interface Since {
  /** Set-out places that lie behind the train: for sure, since it was heard farther on; or by its speed, unless it stopped. */
  behind: SetOut[];
  isSure: boolean;
  /** The farthest site ahead at which it was heard since. */
  heardAt: string | null;
  /** The next set-out place that it can still come to before the limit could be reached; null: there is none in time. */
  next: SetOut | null;
  /** Nobody knows how far it ran: its speed was not measured. */
  isUnknown: boolean;
}

/** With no speed known, an advice about places ahead is doubted from then on. Assumption. */
export const DOUBTED_MS = 10 * 60_000;

/** Somebody said that the train was stopped, or the vehicle set out: from then on nobody may reckon how far it ran. */
export function isStanding({ done }: Pick<Row, "done">): boolean {
  return done?.what === "train-stopped" || done?.what === "set-out";
}

/**
 * What became of the places ahead since the last reading; null while what was said still holds, and where nothing is asked any
 * more. A train that somebody said was stopped is not counted on.
 */
export function sinceReading({ row, setOuts, sitesAhead, mph }: Seen, nowMs: number): Since | null {
  const need = needOf(row);
  if (need === "closed" || need === "aside" || setOuts.length === 0) return null;
  const heard = sitesAhead.filter((one) => one.heard).at(-1);
  const isStopped = isStanding(row);
  const isBehind = ({ passed, arrivesMs }: SetOut) => passed || (!isStopped && arrivesMs !== null && arrivesMs <= nowMs);
  const behind = setOuts.filter(isBehind);
  const isUnknown = mph === null && !isStopped && nowMs - row.timeMs > DOUBTED_MS;
  if (behind.length === 0 && !isUnknown) return null;
  return {
    behind,
    isSure: behind.every((one) => one.passed),
    heardAt: heard?.name ?? null,
    // Which way the train takes is not known here: a place on one of them only may never come.
    next: setOuts.find((one) => one.inTime && one.onEveryWay && !isBehind(one)) ?? null,
    isUnknown,
  };
}
