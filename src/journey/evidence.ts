import type { JoinDoubt, JoinEvidence } from "./journey.ts";
import { type Candidate, LEAST_SAID_NATS } from "./weigh.ts";

/** A lead smaller than this is said to be small even where it suffices (assumption). */
const SMALL_MARGIN = 12;
/** Log-odds are told with one decimal: more would say more than is known. */
const GRID = 10;
const MOST_NAMED = 5;

/** What spoke for a join, in numbers and in words. `told`: which cars went or came is sure, if any. */
export function evidenceOf(
  best: Candidate,
  rival: Candidate | null,
  margin: number,
  implausibleHeat: boolean,
  told: boolean,
): JoinEvidence {
  const { alignment, route } = best;
  return {
    from: best.open.last.pass.id,
    miles: route.miles,
    hours: best.hours,
    mph: best.hours > 0 ? route.miles / best.hours : 0,
    matched: alignment.matched,
    dropped: alignment.dropped,
    added: alignment.added,
    missedSingly: alignment.missedSingly,
    doubled: alignment.doubled,
    flipped: best.flipped !== best.open.last.flipped,
    scale: alignment.scale,
    residualInches: Math.sqrt(alignment.squareInches),
    train: best.train,
    tagsAgree: best.tagsAgree,
    tagsDiffer: best.tagsDiffer,
    score: round(best.score),
    margin: round(margin),
    runnerUp: rival === null ? null : rival.open.journey.id,
    doubts: doubtsOf(best, rival, margin, implausibleHeat, told),
  };
}

/** Each reason once: what two of them would say together is one sentence. */
function doubtsOf(best: Candidate, rival: Candidate | null, margin: number, implausibleHeat: boolean, told: boolean): string[] {
  const doubts = [...doubtsOfWay(best), ...doubtsOfCars(best, told)];
  if (best.train === "different") doubts.push("The sites gave different train ids.");
  if (best.tagsDiffer > 0) doubts.push(best.tagsDiffer === 1 ? "1 vehicle tag differs." : `${best.tagsDiffer} vehicle tags differ.`);
  if (best.contested) doubts.push("Another pass on the way could have been this train too.");
  if (implausibleHeat) {
    doubts.push(
      `${best.warmth.implausible} of ${best.warmth.bearings} bearings would have heated or cooled faster than was ever measured.`,
    );
  }
  if (margin >= SMALL_MARGIN) return doubts;
  if (rival === null) doubts.push("It is only a little likelier than a train that was never heard before.");
  else doubts.push(`Another train, ${rival.open.journey.id}, fits it nearly as well.`);
  return doubts;
}

/** Which way it went, in which direction and order, and how fast. */
function doubtsOfWay(best: Candidate): string[] {
  const doubts: string[] = [];
  const { route } = best;
  const over = route.over.join(", ");
  const isTurned = route.kind === "back" || route.kind === "behind";
  if (isTurned) {
    const unheard = over === "" ? "" : `, unheard at ${over} on its way back`;
    doubts.push(`The train turned back between the two sites${unheard}; how far it went before is not known.`);
  } else if (over !== "") doubts.push(`Not heard at ${over} on the way.`);
  if (best.directionDoubted)
    doubts.push(`The site reported ${opposed(best)}; the axles came in the order of a train that ran ${best.direction}.`);
  if (route.kind === "begun-wrong") doubts.push("The first site of this journey reported the direction the wrong way round.");
  if (best.wrongTrack) doubts.push("It came on a track that the line file does not lead to from the site before.");
  if (best.tooFast) doubts.push("It came sooner than the fastest running time allows: the clock of one of the two sites may be wrong.");
  if (best.flipped !== best.open.last.flipped) doubts.push("Its axles came in reversed order: the train changed ends.");
  return doubts;
}

/** What left the train and what came to it. */
function doubtsOfCars({ alignment: { dropped, added } }: Candidate, told: boolean): string[] {
  const changes = [
    ...(dropped > 0 ? [`${dropped} ${dropped === 1 ? "axle is" : "axles are"} gone`] : []),
    ...(added > 0 ? [`${added} ${added === 1 ? "axle is" : "axles are"} new`] : []),
  ];
  if (changes.length === 0) return [];
  const what = `${changes.join(" and ")} since the site before`;
  return [
    told
      ? `${what}.`
      : `${what}; of cars all alike, which ones cannot be told from the spacings: a bearing near them may be another car's.`,
  ];
}

function opposed(best: Candidate): string {
  return best.direction === "rising" ? "falling mileposts" : "rising mileposts";
}

/** A pass that joins nothing although something fits. `ranked`: best first. */
export function doubtOf(kind: JoinDoubt["kind"], pass: string, ranked: readonly Candidate[]): JoinDoubt {
  const candidates: JoinDoubt["candidates"] = [];
  for (const { open, standing } of ranked) {
    if (candidates.length >= MOST_NAMED) break;
    if (!candidates.some((known) => known.journey === open.journey.id))
      candidates.push({ journey: open.journey.id, score: round(standing) });
  }
  return { pass, kind, candidates, words: words(kind, candidates.length, ranked[0]!) };
}

/** A pass of which nothing was recognized while other trains were due. `due`: their journeys, in any order. */
export function unrecognizedOf(pass: string, due: readonly string[]): JoinDoubt {
  return unjoined(
    pass,
    due,
    (several) =>
      `${several ? "Trains were" : "A train was"} due here, and nothing of ${several ? "them" : "it"} was recognized: this is another train, or one that left or took on most of its cars on the way; nothing was joined.`,
  );
}

/** A pass that no train due was recognized in, after trains of as many axles went the other way. `back`: their journeys, in any order. */
export function maybeBackOf(pass: string, back: readonly string[]): JoinDoubt {
  return unjoined(
    pass,
    back,
    (several) =>
      `${several ? "Trains" : "A train"} of as many axles went the other way here and may have come back, but spacings and time do not say so; nothing was joined.`,
  );
}

/** `words` of several journeys, or of one. */
function unjoined(pass: string, journeys: readonly string[], words: (several: boolean) => string): JoinDoubt {
  const candidates = [...new Set(journeys)].sort().slice(0, MOST_NAMED);
  return {
    pass,
    kind: "weak",
    candidates: candidates.map((journey) => ({ journey, score: LEAST_SAID_NATS })),
    words: words(candidates.length > 1),
  };
}

function words(kind: JoinDoubt["kind"], journeys: number, best: Candidate): string {
  if (kind === "implausible-heat") {
    return `${best.warmth.implausible} of ${best.warmth.bearings} bearings would have heated or cooled faster than was ever measured, so this is not taken for the same train.`;
  }
  if (kind === "weak") return "A known train could be this one, but spacings, time and ids do not say enough; nothing was joined.";
  if (journeys === 1) return "This is one known train, but which end came first cannot be told from its spacings; nothing was joined.";
  return `${journeys} trains look alike and any of them could be this one; nothing was joined.`;
}

function round(nats: number): number {
  return Math.round(nats * GRID) / GRID;
}
