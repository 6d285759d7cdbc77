import type { Railroad } from "../../src/line/railroad.ts";
import type { JoinCounts } from "./outcome.ts";
import type { PassCase, TrainCase } from "./train-case.ts";

const EXAMPLES = 30;
/** A train that was away from a corridor for longer comes as a new one. As the folds have it: a journey ends by then. */
const AWAY_MS = 12 * 3_600_000;

/** Joins right, wrong and left undone, each pass in the corridor that owns its site. */
export class JoinAccount {
  readonly withId = nothing();
  readonly withoutId = nothing();
  readonly wrong: string[] = [];
  readonly undone: string[] = [];

  train(train: TrainCase, railroad: Railroad, trainOfPass: (passId: string) => string | null): void {
    train.passes.forEach((one, index) => {
      const counts = one.pass?.train == null ? this.withoutId : this.withId;
      counts.passes++;
      const owner = railroad.corridorsOf(one.truth.site)[0]!;
      if (!one.corridors.includes(owner)) counts.late++;
      else this.settled(counts, train, one, before(train, index, owner), trainOfPass);
    });
  }

  private settled(
    counts: JoinCounts,
    train: TrainCase,
    one: PassCase,
    previous: PassCase | null,
    trainOfPass: (passId: string) => string | null,
  ): void {
    if (one.joinedFrom === null) {
      if (previous === null) counts.right++;
      else {
        if (one.doubt !== null) counts.undoneSaid++;
        else counts.undoneSilent++;
        const marks = [...previous.truth.marks.map((mark) => `before: ${mark}`), ...one.truth.marks].join(", ");
        note(this.undone, `${one.doubt ?? "silent"}: ${train.name} ${previous.truth.id} -> ${one.truth.id} (${marks})`);
      }
      return;
    }
    if (one.joinedFrom === previous?.truth.id) counts.right++;
    else if (trainOfPass(one.joinedFrom) === train.name) counts.skipped++;
    else {
      counts.wrong++;
      note(
        this.wrong,
        `${train.name} ${one.truth.id} joined to ${one.joinedFrom} of ${trainOfPass(one.joinedFrom)} (${one.truth.marks.join(", ")})`,
      );
    }
  }
}

/** The last pass before that the corridor had placed; null when the train was new to it or long away. */
function before(train: TrainCase, index: number, corridor: string): PassCase | null {
  for (let at = index - 1; at >= 0; at--) {
    const one = train.passes[at]!;
    if (!one.corridors.includes(corridor)) continue;
    const awayMs = Date.parse(train.passes[index]!.truth.begun) - Date.parse(one.truth.ended);
    return awayMs > AWAY_MS ? null : one;
  }
  return null;
}

function nothing(): JoinCounts {
  return { passes: 0, right: 0, skipped: 0, wrong: 0, undoneSaid: 0, undoneSilent: 0, late: 0 };
}

function note(list: string[], words: string): void {
  if (list.length < EXAMPLES) list.push(words);
}
