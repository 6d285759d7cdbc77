import { ENGINE } from "./outcome.ts";
import type { Run } from "./plan.ts";
import { measureRun } from "./run.ts";
import { bearingKey, type LookNote, type PassCase, type TrainCase, trueAxle, trueSide } from "./train-case.ts";

/** One bearing to be told about: the n-th developing one of the runs, or one named as `train/axle/side`. */
export type Wanted = number | { train: string; axle: number; side: 0 | 1 };

/** Goes through the runs until the bearing is found, and tells its story step by step; null when there is none such. */
export function explain(runs: readonly Run[], wanted: Wanted): string | null {
  let before = 0;
  for (const run of runs) {
    let story: string | null = null;
    let number = before;
    measureRun(run, {
      train: (train) => {
        for (const truth of train.bearings) {
          if (truth.kind !== "developing") continue;
          number++;
          if (wanted === number) story = storyOf(train, truth.axle, truth.side, run);
        }
        if (typeof wanted === "object" && wanted.train === train.name) story = storyOf(train, wanted.axle, wanted.side, run);
      },
    });
    if (story !== null) return story;
    before = number;
  }
  return null;
}

function storyOf(train: TrainCase, axle: number, side: 0 | 1, run: Run): string {
  const lines = [...headOf(train, axle, side, run), ""];
  const looks = looksAt(train, bearingKey(axle, side));
  const truth = train.bearings.find((one) => one.axle === axle && one.side === side);
  const trueF = new Map((truth?.atPasses ?? []).map((point) => [point.pass, point.riseF]));
  train.passes.forEach((one, index) => {
    const at = `mile ${one.truth.miles.toFixed(1)}, ${one.truth.site}, ${one.truth.begun.slice(5, 16).replace("T", " ")}`;
    lines.push(`${at}${marksOf(one)}`);
    lines.push(`    ${readingText(one, axle, side, trueF.get(one.truth.id))}`);
    const look = looks.get(index);
    if (look !== undefined) lines.push(...lookText(look));
    else if (one.levels !== null) lines.push("    not looked at: nothing about it stood out");
  });
  return lines.join("\n");
}

function headOf(train: TrainCase, axle: number, side: 0 | 1, run: Run): string[] {
  const truth = train.bearings.find((one) => one.axle === axle && one.side === side);
  const vehicle = train.truth?.vehicles.findIndex((one) => axle >= one.firstAxle && axle < one.firstAxle + one.axles) ?? -1;
  const where = `axle ${axle} (vehicle ${vehicle + 1} of ${train.truth?.vehicles.length ?? "?"} as it set out), side ${side}`;
  const lines = [`World "${run.world}", seed ${run.seed}, train ${train.name} (${train.truth?.kind ?? "?"}), ${where}`];
  if (truth === undefined) lines.push("In truth an ordinary bearing.");
  else {
    const place = (words: string, mile: number | null | undefined): string =>
      mile == null ? `never ${words}` : `${words} at mile ${mile}`;
    lines.push(
      `In truth ${truth.kind}, class ${truth.class}, ${truth.form}; onset at mile ${truth.onsetMile ?? "-"}; ${place("reached 170 °F", truth.crossing?.mile)}; ${place("failed", truth.failure?.mile)}; ${place("set out", truth.setOutMile)}.`,
    );
  }
  for (const event of train.truth?.events ?? []) lines.push(`  mile ${event.mile}: ${event.words}`);
  return lines;
}

/** The engine's looks at a true bearing by index of the pass, through the names that it gave. */
function looksAt(train: TrainCase, key: number): Map<number, LookNote> {
  const byId = new Map(train.passes.map((one) => [one.truth.id, one]));
  const looks = new Map<number, LookNote>();
  train.passes.forEach((one, index) => {
    for (const look of one.looks) {
      const seen = byId.get(look.passId);
      if (seen !== undefined && bearingKey(trueAxle(seen, look.row), trueSide(seen.truth, look.rail)) === key) looks.set(index, look);
    }
  });
  return looks;
}

function marksOf(one: PassCase): string {
  const marks = [...one.truth.marks];
  if (one.pass === null) marks.push("not received");
  else if (one.levels === null) marks.push("too late to be joined");
  else if (one.joinedFrom === null) marks.push(one.doubt === null ? "begins a journey" : `joined to nothing: ${one.doubt}`);
  return marks.length === 0 ? "" : ` [${marks.join(", ")}]`;
}

function readingText(one: PassCase, axle: number, side: 0 | 1, trueF: number | undefined): string {
  const truth = trueF === undefined ? "" : `, truly ${trueF.toFixed(0)} °F`;
  const row = one.axleOfRow.indexOf(axle);
  if (row < 0 || one.pass === null) return `not seen${truth}`;
  const rail = trueSide(one.truth, side);
  const rise = one.pass.bearingRiseF[rail][row]!;
  const read = Number.isNaN(rise) ? "not measured" : `read ${rise.toFixed(1)} °F`;
  if (one.levels === null) return `${read}${truth}`;
  const { excessF, medianF, spreadF, biasF, doubts } = one.levels;
  const doubt = doubts[rail].length === 0 ? "" : `; doubts: ${doubts[rail].join(", ")}`;
  return `${read}${truth}; ${excessF[rail][row]!.toFixed(1)} over its side (median ${medianF[rail].toFixed(1)}, spread ${spreadF[rail].toFixed(1)}, bias out ${biasF[rail].toFixed(1)}, true bias ${one.truth.biasF[rail].toFixed(1)})${doubt}`;
}

function lookText(look: LookNote): string[] {
  const lines: string[] = [];
  const { outlook } = look;
  if (outlook === null) lines.push("    looked at, but its side has no level");
  else {
    const { healthy, steady, wandering, rising, crossing } = outlook;
    const shares = `healthy ${share(healthy)}, steady ${share(steady)}, wandering ${share(wandering)}, rising ${share(rising)}`;
    lines.push(
      `    ${shares}; now ${outlook.excessF.toFixed(0)} ± ${outlook.excessSdF.toFixed(0)} °F over, slope ${outlook.slopeFPerMile.toFixed(2)} ± ${outlook.slopeSdFPerMile.toFixed(2)} °F a mile`,
    );
    const to =
      crossing === null
        ? "no crossing in sight"
        : `crossing in ${crossing.miles.toFixed(0)} miles (${crossing.low.toFixed(0)} to ${crossing.high.toFixed(0)})`;
    lines.push(
      `    reaches the limit within ${look.nextMiles.toFixed(0)} miles ${share(outlook.chanceNext)}, within ${look.nextButOneMiles.toFixed(0)} miles ${share(outlook.chanceNextButOne)}; ${to}`,
    );
  }
  if (outlook?.onItsWay !== undefined) {
    const { next, nextButOne, within } = outlook.onItsWay;
    lines.push(`    of that by rising: ${share(next)} and ${share(nextButOne)}; within the distance of the rules ${share(within)}`);
  }
  lines.push(
    `    heat: ${look.heat}; ${ENGINE} factor ${look.factor.toFixed(2)}; by this look alone: ${look.now ?? "nothing"}${look.now === null ? "" : ` (${look.cause})`}`,
  );
  if (look.words !== "") lines.push(`    "${look.words}"`);
  return lines;
}

function share(value: number): string {
  return `${(100 * value).toFixed(value < 0.1 ? 1 : 0)} %`;
}
