import type { Pass } from "../pass/pass.ts";
import type { WatchContext } from "./watch-context.ts";

/** A pass that looks like another unit than the line file says; `doubt` null: it does not. */
export function judgeUnits({ book, said }: WatchContext, { site, id, endedMs }: Pass, doubt: string | null): void {
  if (doubt === null) {
    book.clear(site, "", "units", endedMs, `pass ${id} is plausible again`);
    return;
  }
  book.raise({
    site,
    device: "",
    kind: "units",
    atMs: endedMs,
    words: `${said.site(site)}: ${doubt}`,
    advice: "Check the units declared for this site in the line file. Until then its readings are not followed.",
    evidence: `pass ${id}`,
  });
}
