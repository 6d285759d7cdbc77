import { useEffect } from "preact/hooks";
import { conditionWords, deviceWords } from "../../site/condition-words.ts";
import type { SitesView } from "../views/sites-shape.ts";
import type { TestRunView } from "../views/test-shape.ts";
import { useAsked, Waiting } from "./asking.ts";
import { agoWords, fullWords, whenBothWords } from "./clock.ts";
import { ConditionActions } from "./condition-actions.ts";
import { h, type VNode } from "./element.ts";
import { hrefOf } from "./route.ts";
import { store, useStore, useTicking } from "./store.ts";
import { alarmWords } from "./trade-words.ts";
import { finely, inUnit, signed } from "./units.ts";

type Site = SitesView["sites"][number];
type Condition = Site["conditions"][number];

const STANDING: Record<Site["standing"], string> = {
  dead: "dead: nothing is heard",
  silent: "silent: it lives, but reports no trains",
  attention: "needs somebody",
  unheard: "not heard yet",
  well: "well",
};

/** The sites: what is the matter with which, what was last heard, scanners' bias, tests. */
export function SitesPage({ focus }: { focus: string | null }): VNode {
  const { at, sitesVersion, testsVersion } = useStore();
  const { data, error } = useAsked<SitesView>("/api/sites", { at }, `${sitesVersion} ${testsVersion}`);
  const isThere = data !== null;
  useEffect(() => {
    if (focus !== null && isThere) document.getElementById(`site-${focus}`)?.scrollIntoView({ block: "start" });
  }, [focus, isThere]);
  useTicking(10_000);
  if (data === null) return h(Waiting, { error });
  const troubled = data.sites.filter((site) => site.standing !== "well");
  return h(
    "div",
    { class: "sites" },
    h(
      "h1",
      {},
      troubled.length === 0
        ? "All sites are well"
        : `${troubled.length} of ${data.sites.length} sites ${troubled.length === 1 ? "needs" : "need"} somebody`,
    ),
    h(Tests, { data }),
    // Those in trouble by themselves: their cards are long, and beside them short ones would stand in a hole.
    h(Cards, { sites: troubled, focus, kind: "troubled" }),
    h(Cards, { sites: data.sites.filter((site) => site.standing === "well"), focus, kind: "well" }),
  );
}

function Cards({ sites, focus, kind }: { sites: readonly Site[]; focus: string | null; kind: "troubled" | "well" }): VNode {
  return h(
    "div",
    { class: `site-grid ${kind}` },
    sites.map((site) => h(SiteCard, { site, isOpen: site.site === focus || site.standing !== "well", key: site.site })),
  );
}

function Tests({ data }: { data: SitesView }): VNode {
  const { zone } = store;
  if (data.tests.length === 0) return h("p", { class: "quiet" }, "No functional test was heard of in the time that the desk holds.");
  return h(
    "section",
    { class: "sheet" },
    h("h2", {}, "Functional tests"),
    h(
      "ul",
      { class: "plain tests" },
      data.tests.map((test) =>
        h(
          "li",
          {},
          h("a", { href: hrefOf("test", test.id) }, `${test.name}, track ${test.track}`),
          ` ${fullWords(test.begunMs, zone)}: `,
          testWords(test),
        ),
      ),
    ),
  );
}

function testWords(test: TestRunView): VNode | string {
  const answered = test.devices.filter((device) => device.verdict === "answered").length;
  if (test.result === "passed") return "passed, every device answered";
  if (test.result === "failed") return h("b", {}, `failed: ${store.readable(test.words ?? "")}`);
  return h("b", {}, `${test.endedMs === null ? "running" : "ended"}, ${answered} of ${test.devices.length} devices answered`);
}

function SiteCard({ site, isOpen }: { site: Site; isOpen: boolean }): VNode {
  const now = store.now();
  const heard = site.lastHeardMs === null ? "never heard" : `heard ${agoWords(site.lastHeardMs, now)}`;
  return h(
    "section",
    { class: `sheet site ${site.standing}`, id: `site-${site.site}`, "aria-label": site.name },
    h(
      "h2",
      {},
      h("span", { class: `site-mark ${site.standing}`, "aria-hidden": "true" }),
      site.name,
      h("small", {}, ` ${site.line} ${site.milepost.toFixed(1)}`),
    ),
    h(
      "p",
      { class: "site-standing" },
      h("b", {}, STANDING[site.standing]),
      `, ${heard}${site.lastPassMs === null ? "" : `, last train ${agoWords(site.lastPassMs, now)}`}.`,
    ),
    site.conditions.map((one) =>
      h(
        "div",
        { class: "condition" },
        h("p", {}, h("b", {}, titleOf(one)), ` since ${whenBothWords(one.raisedMs, now, store.zone)}. ${store.readable(one.words)}`),
        h("p", { class: "do" }, store.readable(one.advice)),
        one.alarm !== null && h("p", { class: "quiet" }, answerWords(one)),
        h(ConditionActions, { site: site.site, condition: one }),
      ),
    ),
    site.faults.map((one) =>
      h(
        "p",
        {},
        h("b", {}, `fault: ${one.fault.replaceAll("-", " ")}`),
        `${one.device === "" ? "" : `, ${deviceWords(one.device)},`} since ${whenBothWords(one.sinceMs, now, store.zone)}, as the site says.`,
      ),
    ),
    h(
      "details",
      { open: isOpen && site.standing === "well" },
      h("summary", {}, "Scanners, supply, tests, what was"),
      h(SiteMore, { site }),
    ),
  );
}

/** "scanner reads off, track 1, left bearing scanner" */
function titleOf({ kind, device }: Condition): string {
  return `${conditionWords(kind)}${device === "" ? "" : `, ${deviceWords(device)},`}`;
}

function answerWords({ alarm, by, reason, untilMs }: Condition): string {
  const until = untilMs === null ? "" : ` until ${whenBothWords(untilMs, store.now(), store.zone)}`;
  return `${alarmWords(alarm ?? "")}${by === null ? "" : `, by ${by}`}${until}${reason === null ? "" : `: ${reason}`}`;
}

function SiteMore({ site }: { site: Site }): VNode {
  const { unit } = store.options;
  const { zone } = store;
  return h(
    "div",
    {},
    h(
      "dl",
      { class: "facts" },
      h("div", {}, h("dt", {}, "Supply"), h("dd", {}, site.supplyVolts === null ? "not told" : `${site.supplyVolts.toFixed(1)} V`)),
      h("div", {}, h("dt", {}, "Ambient, as sent"), h("dd", {}, site.ambient === null ? "not told" : signed(site.ambient, 1))),
      h("div", {}, h("dt", {}, "Last test"), h("dd", {}, site.lastTestMs === null ? "none heard of" : fullWords(site.lastTestMs, zone))),
      h(
        "div",
        {},
        h("dt", {}, "Test due"),
        h("dd", {}, site.testDue === null ? "not due as far as is known" : store.readable(site.testDue)),
      ),
      ...site.references.map(({ device, reference }) =>
        h("div", {}, h("dt", {}, `Reference, ${deviceWords(device)}`), h("dd", {}, reference === null ? "not told" : signed(reference, 1))),
      ),
    ),
    site.biases.length > 0 &&
      h(
        "table",
        {},
        h("caption", {}, `What each scanner reads too much, learned against its neighbours, °${unit}; hour by hour`),
        h(
          "tbody",
          {},
          site.biases.map((one) =>
            h(
              "tr",
              {},
              h("th", { scope: "row" }, deviceWords(one.scanner)),
              h("td", { class: "n" }, `${finely(one.biasF, unit)} ± ${finely(one.sdF, unit)}`),
              h("td", { class: "n" }, `${one.trains} trains`),
              h("td", {}, h(Trend, { points: one.trend })),
            ),
          ),
        ),
      ),
    site.past.length > 0 &&
      h(
        "div",
        {},
        h("h3", {}, "Was"),
        h(
          "ul",
          { class: "plain" },
          site.past.map((one) =>
            h("li", {}, h("b", {}, titleOf(one)), ` ${fullWords(one.raisedMs, zone)} to ${fullWords(one.changedMs, zone)}`),
          ),
        ),
      ),
  );
}

const TREND = { width: 130, height: 30, mostF: 20 };

/** A scanner's bias over the hours, around nought. */
function Trend({ points }: { points: readonly (readonly [number, number])[] }): VNode {
  const first = points[0]?.[0] ?? 0;
  const span = Math.max(1, (points.at(-1)?.[0] ?? 0) - first);
  const y = (biasF: number) =>
    TREND.height / 2 - (Math.max(-TREND.mostF, Math.min(TREND.mostF, biasF)) / TREND.mostF) * (TREND.height / 2 - 2);
  const at = ([ms, biasF]: readonly [number, number]) => `${((ms - first) / span) * (TREND.width - 6) + 3},${y(biasF)}`;
  const last = points.at(-1);
  return h(
    "svg",
    {
      class: "trend",
      width: TREND.width,
      height: TREND.height,
      role: "img",
      "aria-label": `from ${finely(points[0]?.[1] ?? 0, store.options.unit)} to ${finely(last?.[1] ?? 0, store.options.unit)} °${store.options.unit} over ${points.length} hours; ${signed(inUnit(TREND.mostF, store.options.unit), 0)} at the edge`,
    },
    h("path", { class: "zero", d: `M0 ${TREND.height / 2}H${TREND.width}` }),
    points.length > 1 ? h("polyline", { points: points.map(at).join(" ") }) : null,
    last !== undefined && h("circle", { cx: Number(at(last).split(",")[0]), cy: y(last[1]), r: 2.5 }),
  );
}
