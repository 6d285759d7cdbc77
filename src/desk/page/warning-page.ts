import type { OneWarning } from "../views/warning-shape.ts";
import { ActionsPanel } from "./actions-panel.ts";
import { useAsked, Waiting } from "./asking.ts";
import { BearingCurve } from "./bearing-curve.ts";
import { agoWords, whenBothWords } from "./clock.ts";
import { h, type VNode } from "./element.ts";
import { crossingWords, leftWords } from "./left-words.ts";
import { LevelMark } from "./level-mark.ts";
import { limitWords } from "./limit-words.ts";
import { STATE_WORDS } from "./now-row.ts";
import { hrefOf } from "./route.ts";
import { store, useStore, useTicking } from "./store.ts";
import { degrees, perMile, temperaturesIn } from "./units.ts";
import { VehicleStrip } from "./vehicle-strip.ts";
import { Ahead, Elsewhere, SinceThen } from "./warning-ahead.ts";
import { Readings } from "./warning-readings.ts";
import { Chances, Story } from "./warning-story.ts";

/** One warning: what to do, the evidence, what was done, and what can be done. */
export function WarningPage({ id }: { id: string }): VNode {
  const { rows, at } = useStore();
  const live = rows.get(id);
  const { data, error, again } = useAsked<OneWarning>("/api/warning", { id, at }, `${live?.version} ${live?.actions} ${live?.state}`);
  if (data === null) return h(Waiting, { error });
  const { warning } = data;
  const { unit } = store.options;
  return h(
    "article",
    { class: "one-warning" },
    h("p", { class: "crumb no-print" }, h("a", { href: hrefOf("now") }, "Now"), " / one warning"),
    h(Heading, { data }),
    h(
      "div",
      { class: "two" },
      h(
        "div",
        {},
        h("section", { class: "sheet first" }, h("h2", {}, "The bearing over the miles"), h(BearingCurve, { data })),
        h("section", { class: "sheet first" }, h("h2", {}, "Ahead of the train"), h(Ahead, { data })),
        h("section", { class: "sheet" }, h("h2", {}, "Every reading"), h(Readings, { data })),
        h(LastSites, { data }),
      ),
      h(
        "div",
        {},
        at === null && h(ActionsPanel, { data, again }),
        h("section", { class: "sheet first" }, h("h2", {}, "What was done"), h(Story, { data })),
        h(
          "section",
          { class: "sheet" },
          h("h2", {}, "Why"),
          h(
            "ul",
            { class: "plain" },
            warning.reasons.map((reason) => h("li", {}, temperaturesIn(store.readable(reason), unit))),
          ),
          h(Chances, { data }),
        ),
      ),
    ),
    h("p", { class: "quiet small" }, `Rules ${warning.rules}, version ${warning.version}, ${warning.id}.`),
  );
}

/** Where the last site did not measure it, what was read last says more than a slope that is not known. */
function slopeWords({ row, evidence }: OneWarning): string {
  const { unit } = store.options;
  const last = row.riseF === null ? evidence.findLast((one) => one.riseF !== null) : undefined;
  return last === undefined ? perMile(row.slopeFPerMile, unit) : `last read ${degrees(last.riseF, unit)} at ${last.name}`;
}

function LastSites({ data }: { data: OneWarning }): VNode | null {
  if (data.strip.length === 0) return null;
  return h(
    "section",
    { class: "sheet" },
    h("h2", {}, "The train at its last sites"),
    h(VehicleStrip, { legs: data.strip, focus: data.row.id }),
    h("p", {}, h("a", { href: hrefOf("train", data.warning.journey) }, "All of this train: passes, joins, bearings ranked")),
  );
}

function Heading({ data }: { data: OneWarning }): VNode {
  useTicking(1_000);
  const { row, warning } = data;
  const { options, zone } = store;
  const now = store.now();
  return h(
    "header",
    { class: `sheet big ${row.level}` },
    h("div", { class: "big-level" }, h(LevelMark, { level: row.level, size: 46 }), h("span", { class: `level ${row.level}` }, row.level)),
    h(
      "div",
      { class: "big-what" },
      h("h1", {}, row.train === null ? "Train without an id" : `Train ${row.train}`),
      h("p", { class: "place" }, warning.place),
      h(
        "p",
        { class: "quiet" },
        `Read at ${store.siteName(row.site)} track ${row.track}, ${whenBothWords(row.readMs ?? row.timeMs, now, zone)}, ${agoWords(row.readMs ?? row.timeMs, now)}. `,
        h("b", {}, row.pending ? `${STATE_WORDS[row.state]} (being taken down)` : STATE_WORDS[row.state]),
        row.owner === null ? "; nobody has it." : `; ${row.owner} has it.`,
      ),
    ),
    h(
      "dl",
      { class: "big-figures" },
      h(
        "div",
        {},
        h("dt", {}, "Rise above ambient"),
        h("dd", {}, degrees(row.riseF, options.unit)),
        h("dd", { class: "more" }, `${slopeWords(data)}, ${limitWords(row, options.unit)}`),
      ),
      h(
        "div",
        {},
        h("dt", {}, "Left to act"),
        h("dd", { class: "words" }, leftWords(row, now)),
        h("dd", { class: "more" }, crossingWords(row, now)),
      ),
    ),
    h(
      "div",
      { class: "advice" },
      h("p", {}, h("strong", {}, "Advice "), temperaturesIn(store.readable(warning.advice), options.unit)),
      h(SinceThen, { data }),
      h(Elsewhere, { data }),
      h("p", { class: "caution" }, `${warning.caution} A reading may be too low.`),
    ),
  );
}
