import type { Corridor, Railroad } from "../../line/railroad.ts";
import { deviceWords } from "../../site/condition-words.ts";
import type { Day } from "../day.ts";
import { msOf } from "../words.ts";
import type { Clock } from "./clock.ts";
import { type Markup, markup } from "./markup.ts";

/** Under a corridor's diagram: its sites that were out of service, whose passes are left out of the trains above. Null without any. */
export function outOfServiceNote(railroad: Railroad, corridor: Pick<Corridor, "sites">, day: Day, clock: Clock): Markup | null {
  const spells = day.conditions.filter(({ kind, site }) => kind === "out-of-service" && corridor.sites.includes(site));
  if (spells.length === 0) return null;
  const words = spells.map(({ site, device, raisedAt, state, time }) => {
    const where = [railroad.sites.get(site)?.name ?? site, deviceWords(device)].filter((one) => one !== "").join(", ");
    const until = state === "cleared" ? `to ${clock.full(msOf(time)).slice(5)}` : "on";
    return `${where}, from ${clock.full(msOf(raisedAt)).slice(5)} ${until}`;
  });
  return markup`<p class="note">Out of service, so what passed there is left out of these trains: ${words.join("; ")}.</p>`;
}
