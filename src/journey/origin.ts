import type { OpenJourney } from "./open-journey.ts";
import type { Candidate } from "./weigh.ts";

/** No journey is taken for the rest of another one for surer than this, nats: it would have been joined. */
const MOST_SAME_NATS = 7;

/** A journey that another one may be the rest of, as it stood when that one began. */
interface Forerunner {
  open: OpenJourney;
  lastPass: string;
  sameNats: number;
}

/**
 * What a journey may be the rest of: where its first pass was joined to nothing because of a doubt, it goes on beside the
 * one that it most likely is. When the train comes again both fit it, but they do not stand against each other: only if
 * they were two trains would it be wrong to go on with the newer one.
 */
export class Origin {
  private readonly forerunners: Forerunner[] = [];

  /** `near`: what the first pass could have been. */
  constructor(near: readonly Candidate[]) {
    const best = new Map<OpenJourney, number>();
    for (const { open, score } of near) best.set(open, Math.max(score, best.get(open) ?? Number.NEGATIVE_INFINITY));
    // That it is a train never heard before has the weight 1.
    let all = 1;
    for (const score of best.values()) all += Math.exp(score);
    for (const [open, score] of best) {
      const sameNats = Math.min(MOST_SAME_NATS, Math.log(all / (all - Math.exp(score))));
      this.forerunners.push({ open, lastPass: open.last.pass.id, sameNats });
    }
  }

  /** Log of one over the chance that the other journey is another train than this one; 0 when nothing speaks for their being one, or it went on since. */
  sameNats(other: OpenJourney): number {
    for (const { open, lastPass, sameNats } of this.forerunners) if (open === other && other.last.pass.id === lastPass) return sameNats;
    return 0;
  }
}
