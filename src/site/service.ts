import type { DeskAction } from "../feed/record.ts";
import { OutOfServiceBook, type OutOfServiceSpell } from "./out-of-service.ts";
import type { WatchContext } from "./watch-context.ts";

/** Sites, tracks and devices out of service, and the condition that says so for as long as they are. */
export class Service {
  private readonly context: WatchContext;
  private readonly spells = new OutOfServiceBook();

  constructor(context: WatchContext) {
    this.context = context;
  }

  /** What a person did about a site. Answers true when it began or ended a time out of service. */
  act(action: DeskAction): boolean {
    const spell = this.spells.act(action);
    if (spell === null) return false;
    if (!this.context.owned.has(spell.site)) return true;
    const { book } = this.context;
    if (spell.toMs === null) this.takeOut(spell);
    else book.clear(spell.site, spell.device, "out-of-service", spell.toMs, `returned to service by ${action.by}`);
    return true;
  }

  private takeOut(spell: OutOfServiceSpell): void {
    const { site, device, fromMs, by, reason, returnMs } = spell;
    const { said } = this.context;
    const what = said.device(site, device);
    this.context.book.clearAll(site, device, fromMs, `${what} was taken out of service and is not judged until it returns`);
    const until = returnMs === null ? undefined : new Date(returnMs).toISOString();
    const untilWords = returnMs === null ? "" : ` until ${said.time(returnMs)}`;
    this.context.book.raise({
      site,
      device,
      kind: "out-of-service",
      atMs: fromMs,
      words: `${upper(what)} is out of service${untilWords}: ${reason === "" ? "no reason given" : reason}. Its trains are not joined, followed or warned of there.`,
      advice: "Bearings are last seen at the sites beside it. Return it to service only after a functional test.",
      evidence: `by ${by}`,
      by,
      reason,
      ...(until === undefined ? {} : { until }),
    });
  }

  /** Once an hour: what should have returned by now and has not. */
  tick(nowMs: number): void {
    for (const spell of this.spells.standing()) this.shouldReturn(spell, nowMs);
  }

  private shouldReturn(spell: OutOfServiceSpell, nowMs: number): void {
    const { site, device, returnMs, by } = spell;
    const { said } = this.context;
    if (returnMs === null || nowMs < returnMs || !this.context.owned.has(site)) return;
    const due = said.time(returnMs);
    this.context.book.raise({
      site,
      device,
      kind: "out-of-service",
      atMs: nowMs,
      words: `${upper(said.device(site, device))} was to return to service at ${due} and has not. Its trains are still not joined, followed or warned of there.`,
      advice: "Return it to service after a functional test, or say until when it stays out.",
      evidence: `to return at ${due}, taken out by ${by}`,
    });
  }

  /** Whether a device was out of service at that time: itself, its track or its site. */
  isOut(site: string, device: string, ms: number): boolean {
    return this.spells.isOut(site, device, ms);
  }

  /** Nothing was ever taken out, as on most days. */
  get isWhole(): boolean {
    return this.spells.isEmpty;
  }

  state(): OutOfServiceSpell[] {
    return this.spells.state();
  }

  restore(state: readonly OutOfServiceSpell[]): void {
    this.spells.restore(state);
  }
}

function upper(words: string): string {
  return words.charAt(0).toUpperCase() + words.slice(1);
}
