import { shortPlaces } from "../../pass/short-place.ts";
import { conditionWords, deviceWords } from "../../site/condition-words.ts";
import type { Row } from "../board/row.ts";
import type { Handover } from "../views/handover-shape.ts";
import { agoWords, whenBothWords } from "./clock.ts";
import { h, type VNode } from "./element.ts";
import { leftWords } from "./left-words.ts";
import { LevelWord } from "./level-mark.ts";
import { doneWords, STATE_WORDS } from "./now-row.ts";
import { hrefOf } from "./route.ts";
import { store } from "./store.ts";
import { degrees, temperaturesIn } from "./units.ts";

const STALE_MS = 24 * 3_600_000;

/** What is open, in the order of Now, each with what is left to act on and who has it. */
export function Open({ data }: { data: Handover }): VNode {
  const headings = ["level", "train", "where", "rise", "left to act", "state", "who has it", "raised"];
  return h(
    "section",
    { class: "sheet" },
    h("h2", {}, `Open warnings (${data.open.length + data.moreOpen})`),
    data.moreOpen > 0 && h("p", { class: "quiet" }, `${data.moreOpen} less pressing ones are on Now only.`),
    data.open.length === 0 ? h("p", { class: "quiet" }, "None.") : table("Open warnings", headings, data.open.map(openRow), ["rise"]),
  );
}

function openRow(row: Row): VNode {
  const now = store.now();
  const { unit } = store.options;
  const { zone } = store;
  const until = row.state === "shelved" && row.shelvedUntilMs !== null ? ` until ${whenBothWords(row.shelvedUntilMs, now, zone)}` : "";
  const done = row.done === null ? "" : `, ${doneWords(row.done, now, zone)}`;
  const raised = agoWords(row.raisedMs, now);
  return h(
    "tr",
    {},
    h("td", {}, h(LevelWord, { level: row.level })),
    h("th", { scope: "row" }, h("a", { href: hrefOf("warning", row.id) }, row.train ?? "without an id")),
    h("td", { class: "nowrap place" }, shortPlaces(row.place), row.vehicleId !== null && h("small", {}, ` ${row.vehicleId}`)),
    h("td", { class: "n" }, degrees(row.riseF, unit)),
    h("td", {}, leftWords(row, now)),
    h("td", {}, `${STATE_WORDS[row.state]}${until}${done}`),
    h("td", {}, row.owner ?? "nobody"),
    h("td", {}, now - row.raisedMs > STALE_MS ? h("b", {}, raised) : raised),
  );
}

/** Everything that happened in the shift, the latest first. */
export function Events({ data }: { data: Handover }): VNode {
  const count = data.events.length + data.more;
  return h(
    "section",
    { class: "sheet" },
    h("h2", {}, `What happened (${count})`),
    data.more > 0 && h("p", { class: "quiet" }, `${data.more} earlier events are in the CSV file.`),
    count === 0
      ? h("p", { class: "quiet" }, "Nothing in this time.")
      : table("What happened", ["time", "what", "about", "who", "words"], data.events.toReversed().map(eventRow), []),
  );
}

type Event = Handover["events"][number];

function eventRow({ timeMs, what, about, by, words, warning }: Event): VNode {
  const { zone } = store;
  const said = shortPlaces(about);
  return h(
    "tr",
    {},
    h("td", { class: "nowrap" }, whenBothWords(timeMs, store.now(), zone)),
    h("td", {}, h("b", {}, whatWords(what))),
    h("td", {}, warning === null ? placeWords(said) : h("a", { href: hrefOf("warning", warning) }, said)),
    h("td", {}, by ?? ""),
    // What a site says of itself may be an absolute temperature, and stays as it is.
    h("td", {}, warning === null ? store.readable(words) : temperaturesIn(store.readable(words), store.options.unit)),
  );
}

/** "site: cold-scanner cleared" in words; levels and actions are words already. */
function whatWords(what: string): string {
  const found = /^site: (\S+)( cleared)?$/.exec(what);
  return found === null ? what.replaceAll("-", " ") : `${conditionWords(found[1] ?? "")}${found[2] === undefined ? "" : ": over"}`;
}

/** "Orrin 1/right" with the device in words; a site's name may hold blanks itself. */
function placeWords(about: string): string {
  const site = store.session?.sites.find(({ name }) => about.startsWith(`${name} `));
  return site === undefined ? about : `${site.name}, ${deviceWords(about.slice(site.name.length + 1))}`;
}

/** A table that scrolls by itself where it does not fit. `numbers`: headings of columns that are figures. */
export function table(name: string, headings: readonly string[], rows: readonly VNode[], numbers: readonly string[]): VNode {
  return h(
    "div",
    { class: "scroll", tabIndex: 0, role: "region", "aria-label": name },
    h(
      "table",
      {},
      h(
        "thead",
        {},
        h(
          "tr",
          {},
          headings.map((heading) => h("th", { scope: "col", class: numbers.includes(heading) ? "n" : "nowrap" }, heading)),
        ),
      ),
      h("tbody", {}, rows),
    ),
  );
}
