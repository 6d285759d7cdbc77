import type { Consist } from "../feed/record.ts";
import { namedVehicles } from "../pass/consist.ts";
import type { Pass } from "../pass/pass.ts";

/** Consists remembered; the oldest goes first. */
export const MOST_CONSISTS = 2_000;

/** The newest consist of each train. */
export class Consists {
  private readonly byTrain = new Map<string, Consist>();

  /** False when one as new is known already. */
  take(consist: Consist): boolean {
    const { byTrain } = this;
    const known = byTrain.get(consist.train);
    if (known !== undefined && Date.parse(known.time) >= Date.parse(consist.time)) return false;
    byTrain.delete(consist.train);
    byTrain.set(consist.train, consist);
    if (byTrain.size > MOST_CONSISTS) byTrain.delete(byTrain.keys().next().value as string);
    return true;
  }

  /** A pass with its vehicles named, where its train's consist is known. */
  named(pass: Pass): Pass {
    const consist = this.of(pass.train);
    return consist === undefined ? pass : { ...pass, ...namedVehicles(pass, consist) };
  }

  /** Whether a train is to be watched more closely than others. */
  isKey(train: string | null): boolean {
    return this.of(train)?.key === true;
  }

  private of(train: string | null): Consist | undefined {
    return train === null ? undefined : this.byTrain.get(train);
  }
}
