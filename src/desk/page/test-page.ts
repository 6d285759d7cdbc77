import type { SitesView, TestRunView } from "../views/shapes.ts";
import { useAsked, Waiting } from "./asking.ts";
import { bothWords, fullWords, secondsWords, spanWords } from "./clock.ts";
import { h, type VNode } from "./element.ts";
import { hrefOf } from "./route.ts";
import { store, useStore, useTicking } from "./store.ts";

/** A functional test device by device, as it comes, for somebody standing beside the track; printed, it is the record. */
export function TestPage({ id }: { id: string }): VNode {
  const { at, testsVersion } = useStore();
  const { data, error } = useAsked<SitesView>("/api/sites", { at }, String(testsVersion));
  useTicking(1_000);
  if (data === null) return h(Waiting, { error });
  const test = data.tests.find((one) => one.id === id);
  if (test === undefined) return h("p", {}, "The desk does not know this test (any more).");
  const { zone } = store;
  const proved = test.expects.length - test.missing.length;
  const isRunning = test.endedMs === null;
  return h(
    "article",
    { class: "test" },
    h("p", { class: "crumb no-print" }, h("a", { href: hrefOf("sites", test.site) }, "Sites"), " / functional test"),
    h("h1", {}, `${test.name}, track ${test.track}`),
    h("p", { class: `verdict ${isRunning ? "running" : test.missing.length === 0 ? "proved" : "not-proved"}`, role: "status" }, h("strong", {}, `${proved} of ${test.expects.length} devices proved`), verdictWords(test)),
    h(
      "ul",
      { class: "devices" },
      test.expects.map((device) => h(Device, { device, test })),
    ),
    extra(test),
    h(
      "dl",
      { class: "facts" },
      h("div", {}, h("dt", {}, "Begun"), h("dd", {}, fullWords(test.begunMs, zone))),
      h("div", {}, h("dt", {}, "Ended"), h("dd", {}, test.endedMs === null ? `running for ${spanWords(store.now() - test.begunMs)}` : bothWords(test.endedMs, zone))),
      h("div", {}, h("dt", {}, "Tester"), h("dd", {}, test.tester)),
      h("div", {}, h("dt", {}, "Announced to the crew"), h("dd", {}, announcedWords(test))),
    ),
    test.words.length > 0 && h("details", { class: "sheet" }, h("summary", {}, "The engine’s record of the test"), h("ul", { class: "plain" }, test.words.map((line) => h("li", {}, line)))),
    h("p", { class: "quiet small" }, "What is proved here is that the message of each device arrived. The railroad’s own instruction says what a test must hold; this record is not one of them."),
    h("p", { class: "sign" }, "As found / as left: ______________________   Signed: ______________________"),
    h("button", { type: "button", class: "no-print", onClick: () => print() }, "Print the record"),
  );
}

function verdictWords(test: TestRunView): string {
  if (test.endedMs === null) return test.missing.length === 0 ? " Every message arrived; the test can be ended." : " Waiting for the next message.";
  return test.missing.length === 0 ? " The test ended, every message arrived." : ` The test ended without: ${test.missing.join(", ")}.`;
}

function Device({ device, test }: { device: string; test: TestRunView }): VNode {
  const isProved = !test.missing.includes(device);
  const seen = test.seen.filter((one) => matches(device, one.device));
  const last = seen.at(-1);
  return h(
    "li",
    { class: isProved ? "proved" : "waiting" },
    h("span", { class: "tick", "aria-hidden": "true" }, isProved ? "✓" : "○"),
    h("b", {}, device),
    h("span", {}, isProved ? `proved${last === undefined ? "" : ` ${secondsWords(last.timeMs, store.zone)}${last.value === null ? "" : `, value ${last.value}`}${last.announced === true ? ", announced" : last.announced === false ? ", not announced" : ""}`}` : test.endedMs === null ? "waiting" : "no message"),
  );
}

function matches(device: string, seen: string): boolean {
  return seen === device || (device.startsWith("transducer") && seen === "integrity");
}

/** Messages that no device was expected to make. */
function extra(test: TestRunView): VNode | null {
  const others = test.seen.filter((one) => !test.expects.some((device) => matches(device, one.device)));
  if (others.length === 0) return null;
  return h("p", {}, `Also arrived: ${others.map((one) => `${one.device} ${secondsWords(one.timeMs, store.zone)}`).join(", ")}.`);
}

function announcedWords(test: TestRunView): string {
  const told = test.seen.filter((one) => one.announced === true).length;
  return test.seen.length === 0 ? "nothing arrived yet" : `${told} of ${test.seen.length} messages`;
}
