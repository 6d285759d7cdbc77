import type { Row } from "../board/row.ts";
import { needOf } from "../board/urgency.ts";
import type { OneWarning } from "../views/shapes.ts";

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
const DOUBTED_MS = 10 * 60_000;

/**
 * What became of the places ahead since the last reading; null while what was said still holds, and where nothing is asked any
 * more. A train that somebody said was stopped is not counted on.
 */
export function sinceReading({ row, setOuts, sitesAhead, mph }: Seen, nowMs: number): Since | null {
  const need = needOf(row);
  if (need === "closed" || need === "aside" || setOuts.length === 0) return null;
  const heard = sitesAhead.filter((one) => one.heard).at(-1);
  const sureMiles = heard?.miles ?? 0;
  const isStopped = row.done?.what === "train-stopped" || row.done?.what === "set-out";
  const isBehind = ({ miles, arrivesMs }: SetOut) => miles <= sureMiles || (!isStopped && arrivesMs !== null && arrivesMs <= nowMs);
  const behind = setOuts.filter(isBehind);
  const isUnknown = mph === null && !isStopped && nowMs - row.timeMs > DOUBTED_MS;
  if (behind.length === 0 && !isUnknown) return null;
  return {
    behind,
    isSure: behind.every((one) => one.miles <= sureMiles),
    heardAt: heard?.name ?? null,
    next: setOuts.find((one) => one.inTime && !isBehind(one)) ?? null,
    isUnknown,
  };
}
