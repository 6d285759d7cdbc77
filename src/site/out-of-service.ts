import type { DeskAction } from "../feed/record.ts";

/** A site, a track (`1`) or a device (`1/left`) out of service for a time. */
export interface OutOfServiceSpell {
  site: string;
  device: string;
  fromMs: number;
  /** null until somebody returns it to service. */
  toMs: number | null;
  /** The day on which it is to return; it does not by itself. */
  returnMs: number | null;
  by: string;
  reason: string;
}

/** Spells kept, the oldest that are over go first. */
export const MOST_SPELLS = 2_000;

/** What is out of service, by event time: a fold over desk actions, whatever their order. */
export class OutOfServiceBook {
  private spells: OutOfServiceSpell[] = [];

  /** Answers with the spell that an action began or ended; null when it changed nothing. */
  act(action: DeskAction): OutOfServiceSpell | null {
    const { site, device = "" } = action;
    if (site === undefined) return null;
    const ms = Date.parse(action.time);
    const standing = this.spells.find(
      (one) => one.site === site && one.device === device && one.fromMs <= ms && (one.toMs === null || one.toMs > ms),
    );
    if (action.action === "out-of-service") {
      if (standing !== undefined) return null;
      const returnMs = action.until === undefined ? null : Date.parse(action.until);
      const spell = { site, device, fromMs: ms, toMs: null, returnMs, by: action.by, reason: action.text ?? "" };
      this.spells.push(spell);
      this.bound();
      return spell;
    }
    if (action.action !== "return-to-service" || standing === undefined) return null;
    standing.toMs = ms;
    return standing;
  }

  private bound(): void {
    if (this.spells.length <= MOST_SPELLS) return;
    const over = this.spells.findIndex((one) => one.toMs !== null);
    this.spells.splice(Math.max(0, over), 1);
  }

  /** Nothing was ever taken out. */
  get isEmpty(): boolean {
    return this.spells.length === 0;
  }

  /** Whether a device is out of service: itself, its track or its site. */
  isOut(site: string, device: string, ms: number): boolean {
    if (this.spells.length === 0) return false;
    return this.spells.some((one) => one.site === site && covers(one.device, device) && isDuring(one, ms));
  }

  /** The spell over a whole site now; for showing, and for those that should have returned. */
  *standing(): IterableIterator<OutOfServiceSpell> {
    for (const spell of this.spells) if (spell.toMs === null) yield spell;
  }

  state(): OutOfServiceSpell[] {
    return this.spells;
  }

  restore(state: readonly OutOfServiceSpell[]): void {
    this.spells = state.map((one) => ({ ...one }));
  }
}

function covers(out: string, device: string): boolean {
  return out === "" || out === device || device.startsWith(`${out}/`);
}

function isDuring({ fromMs, toMs }: OutOfServiceSpell, ms: number): boolean {
  return ms >= fromMs && (toMs === null || ms < toMs);
}
