import type { JoinDoubt, Journey, Leg } from "../journey/journey.ts";
import { comparePasses, type Pass } from "../pass/pass.ts";

/** A pass with its place in a journey. */
export interface Placed {
  pass: Pass;
  journey: Journey;
  leg: Leg;
  doubt: JoinDoubt | null;
}

/** Passes placed and not settled, in the order of event time: what a late one may still change. */
export class Unsettled {
  private readonly list: Placed[] = [];

  get size(): number {
    return this.list.length;
  }

  get all(): readonly Placed[] {
    return this.list;
  }

  at(index: number): Placed | undefined {
    return this.list[index];
  }

  /** Where a pass belongs. Most come last, so it is looked for from there. */
  indexFor(pass: Pass): number {
    let at = this.list.length;
    while (at > 0 && comparePasses(pass, this.list[at - 1]!.pass) < 0) at--;
    return at;
  }

  /** The first that does not come before a pass; -1 without any. */
  notBefore(pass: Pass): number {
    return this.list.findIndex((placed) => comparePasses(placed.pass, pass) >= 0);
  }

  /** The first of those that ended at a time or later; -1 without any. */
  endedFrom(ms: number): number {
    return this.list.findIndex(({ pass }) => pass.endedMs >= ms);
  }

  begunFrom(ms: number): number {
    return this.list.findIndex(({ pass }) => pass.begunMs >= ms);
  }

  ofTrain(train: string): number {
    return this.list.findIndex(({ pass }) => pass.train === train);
  }

  push(placed: Placed): void {
    this.list.push(placed);
  }

  /** Takes all from a position on out, and hands them over. */
  cut(from: number): Placed[] {
    return this.list.splice(from);
  }

  /** Takes those out that ended by a time, oldest first. */
  settle(throughMs: number): Placed[] {
    let count = 0;
    while (count < this.list.length && this.list[count]!.pass.endedMs <= throughMs) count++;
    return this.list.splice(0, count);
  }
}
