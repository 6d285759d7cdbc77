import { useEffect, useRef } from "preact/hooks";
import { signOut } from "./api.ts";
import { NotShown } from "./asking.ts";
import { Caution } from "./caution.ts";
import { clockWords, dayWords, fullWords, secondsWords, spanWords, utcWords, zoneWords } from "./clock.ts";
import { h, type VNode } from "./element.ts";
import { HandoverPage } from "./handover-page.ts";
import { LinePage } from "./line-page.ts";
import { LookBackPage } from "./look-back-page.ts";
import { NowPage } from "./now-page.ts";
import { SILENT_MS } from "./options.ts";
import { hrefOf, type Page, type Route, useRoute } from "./route.ts";
import { SignIn } from "./sign-in.ts";
import { SitesPage } from "./sites-page.ts";
import { store, useStore, useTicking } from "./store.ts";
import { TestPage } from "./test-page.ts";
import { TrainPage } from "./train-page.ts";
import { WarningPage } from "./warning-page.ts";

/** Data older than this is said to be old: sites send a heartbeat every few minutes (assumption). */
const OLD_DATA_MS = 15 * 60_000;

/** In the bar, in this order. */
const PAGES = ["now", "line", "sites", "handover", "back"] as const;

/** Around every page: where one is, what time it is, whether what one sees is live. */
export function Frame(): VNode {
  const { session } = useStore();
  const route = useRoute();
  const main = useRef<HTMLElement>(null);
  useEffect(() => {
    document.title = `${TITLES[route.page]}, bearing-rise desk`;
  }, [route]);
  if (session?.person == null) return h("div", { class: "frame" }, h(SignIn, {}));
  return h(
    "div",
    { class: "frame" },
    h("a", { class: "skip", href: "#content", onClick: (event: Event) => skip(event, main.current) }, "To the content"),
    h("header", { class: "bar" }, h("p", { class: "brand" }, session.railroad.name), h(Pages, { route }), h(Clocks, {}), h(PersonMenu, {})),
    h(Standing, {}),
    // Only what is added is read, each line once.
    h("div", { id: "said", class: "unseen", role: "log", "aria-label": "What the desk says" }),
    h("div", { id: "said-now", class: "unseen", role: "alert", "aria-atomic": "false" }),
    h("main", { id: "content", tabIndex: -1, ref: main }, pageOf(route)),
    !HEADED.has(route.page) && h("footer", {}, h(Caution, {})),
  );
}

function skip(event: Event, main: HTMLElement | null): void {
  event.preventDefault();
  main?.focus();
}

function pageOf({ page, id }: Route): VNode {
  if (page === "line") return h(LinePage, {});
  if (page === "sites") return h(SitesPage, { focus: id });
  if (page === "test" && id !== null) return h(TestPage, { id, key: id });
  if (page === "handover") return h(HandoverPage, {});
  if (page === "back") return h(LookBackPage, {});
  if (page === "warning" && id !== null) return h(WarningPage, { id, key: id });
  if (page === "train" && id !== null) return h(TrainPage, { id, key: id });
  if (page === "now") return h(NowPage, {});
  // Showing Now instead would pass for what was asked.
  return h(NotShown, {
    title: "The desk has no such page",
    words: `The address ${id ?? ""} names none. It may have been cut off on its way here.`,
  });
}

/** Pages that have a caution of their own, beside what it is about. */
const HEADED: ReadonlySet<Route["page"]> = new Set(["now", "line", "handover", "back", "warning", "train", "test"]);

const TITLES: Readonly<Record<Route["page"], string>> = {
  now: "Now",
  line: "The line",
  sites: "Sites",
  handover: "Handover",
  back: "Look back",
  warning: "One warning",
  train: "A train",
  test: "A functional test",
  unknown: "No such page",
};

/** Which of the pages in the bar a page belongs to. */
const BELONGS: Partial<Record<Route["page"], Page>> = { warning: "now", train: "line", test: "sites" };

function Pages({ route }: { route: Route }): VNode {
  const here = BELONGS[route.page] ?? route.page;
  return h(
    "nav",
    { "aria-label": "Pages" },
    PAGES.map((page) => h("a", { href: hrefOf(page), "aria-current": here === page ? "page" : undefined }, TITLES[page])),
  );
}

function Clocks(): VNode {
  const { zone, at } = useStore();
  useTicking(1_000);
  const now = store.now();
  return h(
    "p",
    { class: at === null ? "clocks" : "clocks past" },
    h("span", { class: "local" }, secondsWords(now, zone), h("small", {}, ` ${zoneWords(now, zone)}, ${dayWords(now, zone)}`)),
    h("span", { class: "utc" }, utcWords(now)),
  );
}

/** What must be known of everything on the page: a demonstration, not live, old data, a look back. */
function Standing(): VNode {
  const { session, notLiveSince, at, clock, zone } = useStore();
  useTicking(1_000);
  const now = store.now();
  const dataAge = at === null && clock.dataMs !== null ? now - clock.dataMs : 0;
  return h(
    "section",
    { class: "standing", "aria-label": "What holds for the whole page" },
    session?.demonstration != null && h("p", { class: "demonstration" }, session.demonstration),
    notLiveSince !== null &&
      h(
        "p",
        { class: "not-live" },
        h("strong", {}, `Not live since ${secondsWords(notLiveSince, zone)}`),
        h(
          "span",
          {},
          ` ${clockWords(notLiveSince, "UTC")} UTC, ${spanWords(now - notLiveSince)}. What you see is as it was then. Trying to connect again.`,
        ),
      ),
    notLiveSince === null &&
      dataAge > OLD_DATA_MS &&
      h(
        "p",
        { class: "not-live old" },
        h("strong", {}, `No data from any site for ${spanWords(dataAge)}`),
        h("span", {}, " The page is connected; the sites, or the way from them, are not heard."),
      ),
    at === null && store.failed !== null && h("p", { class: "not-live old", role: "alert" }, h("strong", {}, store.failed)),
    at !== null &&
      h(
        "p",
        { class: "looking-back" },
        h("strong", {}, `As it stood ${fullWords(at, zone)}`),
        h("span", {}, " Nothing here is live and nothing can be acted on. "),
        h("button", { type: "button", onClick: () => store.lookAt(null) }, "Back to now"),
        store.lacks.length > 0 && h("span", { class: "lacks" }, ` The log no longer holds all of it: ${lackWords(store.lacks, zone)}.`),
        store.failed !== null && h("span", { class: "lacks", role: "alert" }, ` ${store.failed}`),
      ),
  );
}

const LACKS = { passes: "passes", "site-reports": "what sites reported", consists: "consists", calibrations: "calibrations" } as const;

function lackWords(lacks: typeof store.lacks, zone: string): string {
  return lacks
    .map(({ what, fromMs }) => (fromMs === null ? `no ${LACKS[what]}` : `${LACKS[what]} from ${fullWords(fromMs, zone)} on`))
    .join(", ");
}

function PersonMenu(): VNode {
  const { session, options } = useStore();
  useTicking(10_000);
  const isSilent = Date.now() < options.silentUntil;
  const choice = (name: string, chosen: string, of: readonly (readonly [string, string])[], set: (value: string) => void) =>
    h(
      "fieldset",
      {},
      h("legend", {}, name),
      of.map(([value, words]) =>
        h("label", {}, h("input", { type: "radio", name, value, checked: chosen === value, onChange: () => set(value) }), words),
      ),
    );
  return h(
    "details",
    { class: "person" },
    h("summary", {}, session?.person?.name ?? "", h("small", {}, ` ${session?.person?.role ?? ""}`)),
    h(
      "div",
      { class: "menu" },
      choice(
        "Temperatures",
        options.unit,
        [
          ["F", "°F"],
          ["C", "°C"],
        ],
        (unit) => store.setOptions({ unit: unit === "C" ? "C" : "F" }),
      ),
      choice(
        "Colours",
        options.theme,
        [
          ["system", "as the system"],
          ["light", "light"],
          ["dark", "dark"],
        ],
        (theme) => store.setOptions({ theme: theme as "system" | "light" | "dark" }),
      ),
      choice(
        "Sound, for you alone",
        options.sound,
        [
          ["all", "every level"],
          ["limit", "limit only"],
        ],
        (sound) => store.setOptions({ sound: sound === "limit" ? "limit" : "all" }),
      ),
      h("p", { class: "quiet small" }, "A limit always sounds."),
      h(
        "button",
        { type: "button", onClick: () => store.setOptions({ silentUntil: isSilent ? 0 : Date.now() + SILENT_MS }) },
        isSilent
          ? `Watch and warn silent for ${spanWords(options.silentUntil - Date.now())}: sound again`
          : "Silence watch and warn for 15 minutes",
      ),
      h("button", { type: "button", onClick: () => void signOut().then(() => location.reload()) }, "Sign out"),
    ),
  );
}
