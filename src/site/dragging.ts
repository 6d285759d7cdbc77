import type { Journey, Leg } from "../journey/journey.ts";
import type { DraggingStory, EquipmentSeen } from "./equipment-seen.ts";
import { MOST_WAITING_REPORTS } from "./equipment-seen.ts";
import type { SiteWords } from "./site-words.ts";
import { PASS_GRACE_MS } from "./watch-numbers.ts";

/** Two passes of one train at sites one after the other, waiting for what their sites report. */
interface Pair {
  before: string;
  after: string;
  beforeSite: string;
  afterSite: string;
  dueMs: number;
}

/** What a pair of passes says of dragging equipment that was reported at one of them. */
export interface DraggingTold {
  seen: EquipmentSeen;
  story: DraggingStory;
  words: string;
}

/** Dragging equipment at one site and none at the next, and the reverse: told apart once both sites must have reported. */
export class Dragging {
  private readonly said: SiteWords;
  private pairs: Pair[] = [];

  constructor(said: SiteWords) {
    this.said = said;
  }

  /** A pass was placed, perhaps not for the last time. */
  placed(journey: Journey, leg: Leg): void {
    const { pass } = leg;
    const before = journey.legs[journey.legs.indexOf(leg) - 1];
    if (before === undefined || leg.join === null || this.pairs.some(({ after }) => after === pass.id)) return;
    this.pairs.push({
      before: before.pass.id,
      after: pass.id,
      beforeSite: before.pass.site,
      afterSite: pass.site,
      dueMs: pass.endedMs + PASS_GRACE_MS,
    });
    if (this.pairs.length > MOST_WAITING_REPORTS) this.pairs.shift();
  }

  /** Time has come to `nowMs`. `draggingOf`: what was reported as dragging in a pass, as it stands when it is asked for. */
  tick(nowMs: number, draggingOf: (pass: string) => EquipmentSeen[], tell: (told: DraggingTold) => void): void {
    const due = this.pairs.filter(({ dueMs }) => nowMs >= dueMs);
    if (due.length === 0) return;
    this.pairs = this.pairs.filter(({ dueMs }) => nowMs < dueMs);
    for (const pair of due) for (const told of storiesOf(pair, draggingOf, this.said)) tell(told);
  }
}

function storiesOf(pair: Pair, draggingOf: (pass: string) => EquipmentSeen[], said: SiteWords): DraggingTold[] {
  const { before, after } = pair;
  const [beforeSite, afterSite] = [said.site(pair.beforeSite), said.site(pair.afterSite)];
  const first = draggingOf(before);
  const then = draggingOf(after);
  if (then.length === 0) {
    const words = `Nothing dragged any more at ${afterSite}: it may have fallen off, or hung itself up again. Look at the track between ${beforeSite} and ${afterSite}.`;
    return first.map((seen) => ({ seen, story: "gone-at-next", words }));
  }
  if (first.length > 0) return then.map((seen) => ({ seen, story: "again", words: `It was dragging at ${beforeSite} already.` }));
  const words = `Nothing dragged at ${beforeSite} before: it began between ${beforeSite} and ${afterSite}. Look at the track between them.`;
  return then.map((seen) => ({ seen, story: "began-here", words }));
}
