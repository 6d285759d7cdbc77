import type { Refusal } from "../feed/reject.ts";

/** The refusal of a pass of a site that no state of the railroad has. */
export function unknownSite({ site }: { site: string }): Refusal {
  return {
    reason: "LINE-001 unknown-site",
    path: "site",
    expected: "a site of the line file",
    advice: `Add ${site} to the line file again, or leave it: nothing else is held up.`,
  };
}
