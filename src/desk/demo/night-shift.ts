import type { DeskAction } from "../../feed/record.ts";
import type { Warning } from "../../warning/warning.ts";

/** Minutes after a warning at which the invented night shift does something about it. All of it is the demonstration's. */
const ACKNOWLEDGED_MIN = 2;
const TOLD_MIN = 4;
const FOUND_MIN = 70;
const MINUTE_MS = 60_000;

const NIGHT_DESK = "night desk";

/**
 * What the shift before did, so that the demonstration begins with a desk in use: warnings to warn or limit that came before
 * `untilMs` are acknowledged, the crew is told, and what an inspection found is taken down. Invented people, invented findings.
 */
export class NightShift {
  private readonly untilMs: number;
  private readonly seen = new Set<string>();
  private readonly due: { atMs: number; action: DeskAction }[] = [];

  constructor(untilMs: number) {
    this.untilMs = untilMs;
  }

  see(warning: Warning): void {
    const raisedMs = Date.parse(warning.time);
    const stage = warning.level === "limit" ? "limit" : "warn";
    if (warning.level === "watch" || warning.heat === "brakes" || raisedMs > this.untilMs) return;
    if (this.seen.has(`${warning.id} ${stage}`)) return;
    this.seen.add(`${warning.id} ${stage}`);
    const add = (minutes: number, what: Partial<DeskAction> & Pick<DeskAction, "action">) => {
      const atMs = raisedMs + minutes * MINUTE_MS;
      if (atMs > this.untilMs) return;
      const id = `night-desk/${warning.id}/${stage}/${minutes}`;
      this.due.push({
        atMs,
        action: { type: "desk-action", id, time: new Date(atMs).toISOString(), by: NIGHT_DESK, warning: warning.id, ...what },
      });
    };
    add(ACKNOWLEDGED_MIN, { action: "acknowledge" });
    add(TOLD_MIN, { action: "note", done: "told-crew", text: "Crew told by radio, read back." });
    if (stage === "limit") add(FOUND_MIN, { action: "found", found: "defect-confirmed", heatStick: "melted", text: "Set out; cup discoloured." });
    else add(FOUND_MIN, { action: "found", found: "nothing-found", heatStick: "not-melted", text: "Car inspector: nothing found, bearing cool." });
    this.due.sort((a, b) => a.atMs - b.atMs);
  }

  /** Actions due by a time, in order; each is handed out once. */
  take(nowMs: number): DeskAction[] {
    let count = 0;
    while (count < this.due.length && this.due[count]!.atMs <= nowMs) count++;
    return this.due.splice(0, count).map((one) => one.action);
  }
}
