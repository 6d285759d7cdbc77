import type { DeskAction } from "../../feed/record.ts";
import type { Board } from "../board/board.ts";
import type { WarningCase } from "../board/warning-case.ts";

/** Minutes after a warning at which the invented night shift does something about it. All of it is the demonstration's. */
const ACKNOWLEDGED_MIN = 2;
const TOLD_MIN = 4;
const FOUND_MIN = 70;
/** What came so late in its shift it left to the next one, so that something waits for a decision at once. */
const LEFT_MIN = 60;
const MINUTE_MS = 60_000;

const NIGHT_DESK = "night desk";

/**
 * What the shift before did, so that the demonstration begins with a desk in use: warnings to warn or limit are acknowledged,
 * the crew is told, and where there was time for it an inspection found something or nothing. Invented people and findings.
 */
export function nightShift(board: Board, untilMs: number): DeskAction[] {
  return [...board.all()].flatMap((one) => actionsOn(one, untilMs)).sort((a, b) => (a.time < b.time ? -1 : 1));
}

function actionsOn(one: WarningCase, untilMs: number): DeskAction[] {
  const { last, versions } = one;
  const limitMs = versions.find((version) => version.level === "limit")?.timeMs;
  const raisedMs = limitMs ?? versions.find((version) => version.level === "warn")?.timeMs;
  if (raisedMs === undefined || last.heat === "brakes" || last.state === "withdrawn") return [];
  if (raisedMs + LEFT_MIN * MINUTE_MS > untilMs) return [];
  const at = (minutes: number, what: Partial<DeskAction> & Pick<DeskAction, "action">): DeskAction[] => {
    const timeMs = raisedMs + minutes * MINUTE_MS;
    if (timeMs > untilMs) return [];
    const id = `night-desk/${last.id}/${minutes}`;
    return [{ type: "desk-action", id, time: new Date(timeMs).toISOString(), by: NIGHT_DESK, warning: last.id, ...what }];
  };
  return [
    ...at(ACKNOWLEDGED_MIN, { action: "acknowledge" }),
    ...at(TOLD_MIN, { action: "note", done: "told-crew", text: "Crew told by radio, read back." }),
    ...at(
      FOUND_MIN,
      limitMs === undefined
        ? { action: "found", found: "nothing-found", heatStick: "not-melted", text: "Car inspector: bearing cool, nothing found." }
        : { action: "found", found: "defect-confirmed", heatStick: "melted", text: "Set out; cup discoloured." },
    ),
  ];
}
