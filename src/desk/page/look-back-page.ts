import { useState } from "preact/hooks";
import type { WhatIf } from "../views/what-if-shape.ts";
import { ApiError, whatIf } from "./api.ts";
import { Caution } from "./caution.ts";
import { bothWords, fullWords, inputOf, instantOf } from "./clock.ts";
import { h, type VNode } from "./element.ts";
import { LevelWord } from "./level-mark.ts";
import { hrefOf } from "./route.ts";
import { store, useStore } from "./store.ts";

const HOUR_MS = 3_600_000;
const STEPS = [
  ["15 min", 0.25],
  ["1 h", 1],
  ["4 h", 4],
  ["8 h", 8],
  ["24 h", 24],
] as const;

/** Any time that the desk holds: all pages as they stood then; and what other rules would have said. */
export function LookBackPage(): VNode {
  const { session, at, zone } = useStore();
  const first = session?.historyFromMs ?? store.now();
  const [chosen, setChosen] = useState(() => inputOf(at ?? store.now() - HOUR_MS, zone));
  const go = (ms: number) => {
    const bounded = Math.round(Math.max(first, Math.min(ms, store.liveNow())));
    setChosen(inputOf(bounded, zone));
    store.lookAt(bounded);
  };
  return h(
    "article",
    { class: "back" },
    h("h1", {}, "Look back"),
    h(Caution, {}),
    h(
      "p",
      { class: "quiet" },
      `The desk holds ${fullWords(first, zone)} to now. Every page then shows what had come by that time, and nothing that came later.`,
    ),
    h(
      "section",
      { class: "sheet" },
      h("h2", {}, at === null ? "To which time?" : `All pages show ${fullWords(at, zone)}`),
      h(
        "form",
        {
          class: "tools",
          onSubmit: (event: Event) => {
            event.preventDefault();
            const ms = instantOf(chosen, zone);
            if (Number.isFinite(ms)) go(ms);
          },
        },
        h(
          "label",
          {},
          "Railroad’s time ",
          h("input", {
            type: "datetime-local",
            value: chosen,
            required: true,
            min: inputOf(first, zone),
            onInput: (event: Event) => setChosen((event.currentTarget as HTMLInputElement).value),
          }),
        ),
        h("button", { type: "submit", class: "main" }, "Look"),
      ),
      h(
        "div",
        { class: "tools" },
        STEPS.map(([words, hours]) =>
          h("button", { type: "button", onClick: () => go((at ?? store.liveNow()) - hours * HOUR_MS) }, `${words} earlier`),
        ),
        at !== null && h("button", { type: "button", onClick: () => go(at + HOUR_MS) }, "1 h later"),
        at !== null && h("button", { type: "button", onClick: () => store.lookAt(null) }, "Back to now"),
      ),
      at !== null &&
        h(
          "p",
          {},
          "Go to ",
          h("a", { href: hrefOf("now") }, "what stood then"),
          ", ",
          h("a", { href: hrefOf("line") }, "the line"),
          ", ",
          h("a", { href: hrefOf("sites") }, "the sites"),
          " or ",
          h("a", { href: hrefOf("handover") }, "the handover"),
          ".",
        ),
    ),
    h(WhatIfs, {}),
  );
}

/** Another rule set on the passes of some hours: what would have been said. */
function WhatIfs(): VNode {
  const { session, at, zone } = useStore();
  const [hours, setHours] = useState(8);
  const [rules, setRules] = useState(session?.ruleSets[0] ?? "");
  const [found, setFound] = useState<WhatIf | null>(null);
  const [error, setError] = useState("");
  const [busy, setBusy] = useState(false);
  if (session === null || session.ruleSets.length === 0)
    return h(
      "section",
      { class: "sheet" },
      h("h2", {}, "What if other rules were in force?"),
      h("p", { class: "quiet" }, "No other rule set is configured (desk.otherRules)."),
    );
  const run = async (event: Event) => {
    event.preventDefault();
    setBusy(true);
    setError("");
    try {
      const toMs = at ?? store.liveNow();
      setFound(await whatIf(rules, toMs - hours * HOUR_MS, toMs, session.csrf));
    } catch (refused) {
      if (!(refused instanceof ApiError)) throw refused;
      setError(refused.message);
    } finally {
      setBusy(false);
    }
  };
  return h(
    "section",
    { class: "sheet" },
    h("h2", {}, "What if other rules were in force?"),
    h(
      "p",
      { class: "quiet" },
      "The passes of these hours go through the same engine again, once with the rules in force and once with the others. Nothing that stands is changed.",
    ),
    h(
      "form",
      { class: "tools", onSubmit: run },
      h(
        "label",
        {},
        "Rules ",
        h(
          "select",
          { value: rules, onChange: (event: Event) => setRules((event.currentTarget as HTMLSelectElement).value) },
          session.ruleSets.map((name) => h("option", { value: name }, name)),
        ),
      ),
      h(
        "label",
        {},
        "Hours ",
        h("input", {
          type: "number",
          min: 1,
          max: 72,
          value: hours,
          onInput: (event: Event) => setHours(Math.max(1, Math.min(72, Number((event.currentTarget as HTMLInputElement).value) || 1))),
        }),
      ),
      h("button", { type: "submit", class: "main", disabled: busy }, busy ? "Running …" : "Run"),
    ),
    error !== "" && h("p", { class: "error", role: "alert" }, error),
    found !== null && h(Found, { found, zone }),
  );
}

function Found({ found, zone }: { found: WhatIf; zone: string }): VNode {
  const { counts } = found;
  const reached = (one: WhatIf["bearings"][number]["asIs"]) =>
    one === null ? "not told" : h("span", {}, h(LevelWord, { level: one.level }), ` ${bothWords(one.timeMs, zone)}`);
  return h(
    "div",
    { role: "status" },
    h(
      "p",
      {},
      `${found.passes} passes: ${counts.only} bearings only under the other rules, ${counts.lost} not under them, ${counts.earlier} higher or earlier, ${counts.later} lower or later, ${counts.same} the same.`,
    ),
    h(
      "div",
      { class: "scroll", tabIndex: 0, role: "region", "aria-label": "Bearings under both rule sets" },
      h(
        "table",
        {},
        h("caption", {}, `Rules in force: ${found.against.join(", ")}. Tried: ${found.rules.join(", ")}.`),
        h(
          "thead",
          {},
          h(
            "tr",
            {},
            ["train", "bearing", "in force", "tried", "difference"].map((name) => h("th", { scope: "col" }, name)),
          ),
        ),
        h(
          "tbody",
          {},
          found.bearings.map((one) =>
            h(
              "tr",
              {},
              h("th", { scope: "row" }, one.train ?? "without an id"),
              h("td", {}, one.place),
              h("td", {}, reached(one.asIs)),
              h("td", {}, reached(one.whatIf)),
              h("td", {}, one.words),
            ),
          ),
        ),
      ),
    ),
  );
}
