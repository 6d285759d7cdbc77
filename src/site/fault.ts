import type { Fault } from "../feed/record.ts";
import type { WatchContext } from "./watch-context.ts";

/** A fault that a site reports of one of its devices stands until the site says that it is over. */
export function judgeFault({ book, said }: WatchContext, { site, device, fault, time, cleared }: Fault): void {
  const atMs = Date.parse(time);
  if (cleared) {
    book.clear(site, device, "fault", atMs, `the site says that "${fault.replaceAll("-", " ")}" is over`);
    return;
  }
  book.raise({
    site,
    device,
    kind: "fault",
    atMs,
    words: `${said.site(site)} reports a fault of ${said.device(site, device)}: ${fault.replaceAll("-", " ")}.`,
    advice: "Take readings of this device with care until the site has been looked at.",
    evidence: `reported at ${said.time(atMs)}`,
  });
}
