import { conditionWords, deviceWords } from "../../site/condition-words.ts";
import type { SitesView } from "../views/sites-shape.ts";
import type { TestRunView } from "../views/test-shape.ts";
import { NotShown, useAsked, Waiting } from "./asking.ts";
import { bothWords, fullWords, secondsWords, spanWords } from "./clock.ts";
import { h, type VNode } from "./element.ts";
import { hrefOf } from "./route.ts";
import { store, useStore, useTicking } from "./store.ts";
import { checkWords } from "./trade-words.ts";
import { degrees } from "./units.ts";

/** A functional test device by device, as it comes, for somebody standing beside the track; printed, it is the record. */
export function TestPage({ id }: { id: string }): VNode {
  const { at, testsVersion } = useStore();
  const { data, error } = useAsked<SitesView>("/api/sites", { at }, String(testsVersion));
  useTicking(1_000);
  if (data === null) return h(Waiting, { error });
  const test = data.tests.find((one) => one.id === id);
  if (test === undefined)
    return h(NotShown, { title: "Not here", words: "The desk does not know this functional test, or does not hold it any more." });
  const { zone } = store;
  const answered = test.devices.filter((device) => device.verdict === "answered").length;
  return h(
    "article",
    { class: "test" },
    h("p", { class: "crumb no-print" }, h("a", { href: hrefOf("sites", test.site) }, "Sites"), " / functional test"),
    h("h1", {}, `Functional test: ${test.name}, track ${test.track}`),
    h(
      "p",
      { class: `verdict ${test.result ?? "running"}`, role: "status" },
      h(
        "strong",
        {},
        test.result === null ? `${answered} of ${test.devices.length} devices answered` : test.result === "passed" ? "Passed" : "Failed",
      ),
      verdictWords(test, answered),
    ),
    h(
      "ul",
      { class: "devices" },
      test.devices.map((device) => h(Device, { device, track: test.track, isRunning: test.endedMs === null })),
    ),
    test.checks.length > 0 &&
      h(
        "ul",
        { class: "plain checks" },
        test.checks.map((one) =>
          h("li", {}, h("b", {}, `${checkWords(one.check)}: ${one.verdict.replaceAll("-", " ")}. `), store.readable(one.words)),
        ),
      ),
    h(
      "dl",
      { class: "facts" },
      h("div", {}, h("dt", {}, "Begun"), h("dd", {}, fullWords(test.begunMs, zone))),
      h(
        "div",
        {},
        h("dt", {}, "Ended"),
        h("dd", {}, test.endedMs === null ? `running for ${spanWords(store.now() - test.begunMs)}` : bothWords(test.endedMs, zone)),
      ),
      h("div", {}, h("dt", {}, "Tester"), h("dd", {}, test.tester)),
      h("div", {}, h("dt", {}, "Trains meanwhile"), h("dd", {}, test.trains === 0 ? "none" : `${test.trains}; they answer for nothing`)),
      h("div", {}, h("dt", {}, "Open as found"), h("dd", {}, test.conditionsAsFound.map(conditionAndDevice).join("; ") || "nothing told")),
      h("div", {}, h("dt", {}, "Open as left"), h("dd", {}, test.conditionsAsLeft.map(conditionAndDevice).join("; ") || "nothing told")),
    ),
    h("p", { class: "quiet small" }, test.caution),
    h(
      "ul",
      { class: "sign" },
      ["As found", "As left", "Parts changed", "Tested by, date"].map((line) => h("li", {}, line)),
    ),
    h("button", { type: "button", class: "no-print", onClick: () => print() }, "Print the record"),
  );
}

/** "drift 1/left" of the record, in words. */
function conditionAndDevice(text: string): string {
  const [kind = "", device = ""] = text.split(" ");
  return device === "" ? conditionWords(kind) : `${conditionWords(kind)}, ${deviceWords(device)}`;
}

function verdictWords(test: TestRunView, answered: number): string {
  if (test.words !== null) return ` ${store.readable(test.words)}`;
  if (test.endedMs !== null) return " Ended; a little is still waited for what may be on its way.";
  return answered === test.devices.length ? " Every device answered; the test can be ended." : " Waiting for the next answer.";
}

type DeviceView = TestRunView["devices"][number];

const VERDICTS: Record<DeviceView["verdict"], string> = {
  answered: "answered",
  missing: "no answer",
  "wrong-side": "answered on the wrong side",
  "too-low": "answered too low",
  "not-announced": "answered, crew not told",
};
const MARKS: Record<DeviceView["verdict"], string> = {
  answered: "✓",
  missing: "○",
  "wrong-side": "⇄",
  "too-low": "↓",
  "not-announced": "!",
};

function Device({ device, track, isRunning }: { device: DeviceView; track: string; isRunning: boolean }): VNode {
  const { unit } = store.options;
  const { verdict, asFound, asLeft, answers } = device;
  const isWaiting = verdict === "missing" && isRunning;
  const told = (one: DeviceView["asLeft"]) =>
    one === null
      ? ""
      : `${secondsWords(one.timeMs, store.zone)}${one.riseF === null ? "" : `, ${degrees(one.riseF, unit)}`}${one.announced === true ? ", crew told" : ""}`;
  return h(
    "li",
    { class: verdict === "answered" ? "proved" : isWaiting ? "waiting" : "wrong" },
    h("span", { class: "tick", "aria-hidden": "true" }, MARKS[verdict]),
    // The track stands in the heading.
    h("b", {}, deviceWords(device.device.startsWith(`${track}/`) ? device.device.slice(track.length + 1) : device.device)),
    h(
      "span",
      {},
      isWaiting ? "waiting" : VERDICTS[verdict],
      asLeft !== null &&
        h("small", {}, answers > 1 && asFound !== null ? ` as found ${told(asFound)}; as left ${told(asLeft)}` : ` ${told(asLeft)}`),
    ),
  );
}
