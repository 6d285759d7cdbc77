import { conditionWords, deviceWords } from "../../site/condition-words.ts";
import type { NotSeeing } from "../views/condition-shape.ts";
import { whenWords } from "./clock.ts";
import { store } from "./store.ts";

/** ": dead since 05:08": a site that would not see the train must not be counted on. */
export function blindWords(notSeeing: readonly NotSeeing[], site: string): string {
  return notSeeing
    .filter((one) => one.site === site)
    .map(({ kind, device, raisedMs }) => {
      const what = [conditionWords(kind), deviceWords(device)].filter((words) => words !== "").join(", ");
      return `: ${what} since ${whenWords(raisedMs, store.now(), store.zone)}`;
    })
    .join("");
}
