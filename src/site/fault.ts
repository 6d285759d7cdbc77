import type { Fault } from "../feed/record.ts";
import type { WatchContext } from "./watch-context.ts";

/** A fault that a site reports of one of its devices stands until the site says that it is over. */
export function judgeFault({ book }: WatchContext, { site, device, fault, time, cleared }: Fault): void {
  const atMs = Date.parse(time);
  if (cleared) {
    book.clear(site, device, "fault", atMs, `the site says that ${fault} is over`);
    return;
  }
  book.raise({
    site,
    device,
    kind: "fault",
    atMs,
    words: `${site} reports a fault of ${device}: ${fault}.`,
    advice: "Take readings of this device with care until the site has been looked at.",
    evidence: `reported at ${time}`,
  });
}
