import type { DeskAction } from "../../feed/record.ts";

const DONE = { "told-crew": "told the crew", "train-stopped": "train stopped", "set-out": "vehicle set out" } as const;
const FOUND = {
  "defect-confirmed": "found: defect confirmed",
  "nothing-found": "found: nothing",
  "wheel-or-brake": "found: wheel or brake, not the bearing",
  "not-inspected": "not inspected",
} as const;
const STICK = { melted: "heat stick melted", "not-melted": "heat stick did not melt", "not-used": "no heat stick used" } as const;

/** What a person did, in words, without who and when. */
export function actionWords(action: DeskAction): string {
  if (action.action === "note" && action.done === undefined) return action.text ?? "note";
  const parts = [whatWords(action)];
  if (action.heatStick !== undefined) parts.push(STICK[action.heatStick]);
  if (action.text !== undefined && action.text !== "" && action.text !== parts[0]) parts.push(action.text);
  return parts.join("; ");
}

function whatWords(action: DeskAction): string {
  switch (action.action) {
    case "acknowledge":
      return "acknowledged";
    case "assign":
      return `assigned to ${action.to ?? "nobody"}`;
    case "note":
      return action.done === undefined ? "note" : DONE[action.done];
    case "found":
      return action.found === undefined ? "found" : FOUND[action.found];
    case "shelve":
      return action.until === undefined ? "shelved" : `shelved until ${action.until}`;
    case "unshelve":
      return "unshelved";
    case "out-of-service":
      return action.until === undefined ? "taken out of service" : `taken out of service until ${action.until}`;
    case "return-to-service":
      return "returned to service";
  }
}
