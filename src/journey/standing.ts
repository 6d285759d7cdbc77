import type { OpenJourney } from "./open-journey.ts";
import { residualNats } from "./residuals.ts";
import type { Candidate } from "./weigh.ts";

/** A pattern this hard to meet twice is the same train wherever it is seen, so two journeys that have it are one. */
const SAME_TRAIN_NATS = 10;
/** A candidate that agrees as it stands is certain from this log-odds on, assumption. */
const CERTAIN_NATS = 12;
/** Trains keep their order on a single track; on several they overtake now and then. */
const OVERTAKES_SINGLE_NATS = -3;
const OVERTAKES_NATS = -1;

/** Makes the candidates of one pass comparable. Between trains that look alike the residuals decide, and their order on the track. */
export function compareCandidates(candidates: readonly Candidate[]): void {
  const nats = residualNats(candidates.map(({ alignment, open }) => ({ alignment, legs: open.roster.legs })));
  for (const [k, one] of candidates.entries()) {
    one.standing = one.plain + nats[k]!;
    if (one.route.kind !== "ahead") continue;
    for (const other of candidates) {
      if (other.open === one.open || other.route.kind !== "ahead" || !sameStart(one, other)) continue;
      if (other.open.last.pass.begunMs < one.open.last.pass.begunMs) {
        one.standing += one.route.single ? OVERTAKES_SINGLE_NATS : OVERTAKES_NATS;
      }
    }
  }
}

function sameStart(a: Candidate, b: Candidate): boolean {
  return a.open.last.pass.site === b.open.last.pass.site && a.open.last.direction === b.open.last.direction;
}

/** The best first; equals in an order that depends on nothing else. */
export function byStanding(a: Candidate, b: Candidate): number {
  if (a.standing !== b.standing) return b.standing - a.standing;
  if (a.open !== b.open) return a.open.journey.id < b.open.journey.id ? -1 : 1;
  return a.flipped === b.flipped ? 0 : a.flipped ? 1 : -1;
}

/** The train that comes nearest to the best one, and by how much it stays behind; far behind when there is none. */
export function rivalOf(best: Candidate, ranked: readonly Candidate[]): { rival: Candidate | null; leadNats: number } {
  let rival: Candidate | null = null;
  let leadNats = Number.POSITIVE_INFINITY;
  for (const other of ranked) {
    if (!isRival(best, other)) continue;
    const lead = best.standing - other.standing + sameNats(best.open, other.open);
    if (lead >= leadNats) continue;
    rival = other;
    leadNats = lead;
  }
  return { rival, leadNats };
}

/** Log of one over the chance that two journeys are two trains, as far as a doubt about the begin of one of them tells. */
function sameNats(a: OpenJourney, b: OpenJourney): number {
  return Math.max(a.origin.sameNats(b), b.origin.sameNats(a));
}

/**
 * Another train that could be this one. A journey that would have passed the best one's last site unheard is no rival
 * where the pattern is too rare for two trains: it is the same train, from before something split it.
 */
function isRival(best: Candidate, other: Candidate): boolean {
  if (other.open === best.open) return false;
  const sameTrain = best.distinctNats >= SAME_TRAIN_NATS && other.distinctNats >= SAME_TRAIN_NATS;
  return !(sameTrain && other.route.over.includes(best.open.last.pass.site));
}

/** The whole train agrees as it stands, and its id or a pattern hard to meet twice says so too: no changed train can come near. */
export function isCertain({ alignment, score, train, distinctNats, route }: Candidate): boolean {
  if (route.kind !== "ahead" || alignment.dropped + alignment.added > 0 || score < CERTAIN_NATS) return false;
  return train === "same" || distinctNats >= SAME_TRAIN_NATS;
}
