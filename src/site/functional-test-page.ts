import type { Railroad } from "../line/railroad.ts";
import { wallClockOf } from "../line/wall-clock.ts";
import { conditionWords, deviceParts, deviceWords, partWords } from "./condition-words.ts";
import type { DeviceAnswer, FunctionalTestRecord } from "./functional-test.ts";

/** What the page says of the railroad that the site belongs to. */
export type PageRailroad = Pick<Railroad, "name" | "timeZone" | "demonstration" | "sites">;

/**
 * The record of a functional test as one page to be printed and signed: plain HTML, nothing loaded from elsewhere. Names as people
 * of the railroad use them, with those of the feed beside them; times of its own clocks, with UTC beside them.
 */
export function testPage(record: FunctionalTestRecord, railroad: PageRailroad): string {
  const {
    site,
    track,
    tester,
    begunAt,
    endedAt,
    closed,
    result,
    devices,
    checks,
    trains,
    conditionsAsFound,
    conditionsAsLeft,
    words,
    rules,
    caution,
  } = record;
  const when = timesOf(railroad.timeZone);
  const deviceRows = devices.map(
    (one) =>
      `<tr class="${one.verdict}"><th scope="row">${deviceText(one.device)}</th><td>${safe(VERDICT[one.verdict])}</td><td>${answerText(one.asFound, when)}</td><td>${answerText(one.asLeft, when)}</td><td>${safe(one.words)}</td></tr>`,
  );
  const title = `Functional test of ${safe(railroad.sites.get(site)?.name ?? site)}, track ${safe(track)}`;
  const checkRows = checks.map(
    (one) =>
      `<tr class="${one.verdict}"><th scope="row">${safe(CHECK[one.check])}</th><td>${safe(CHECKED[one.verdict])}</td><td>${safe(one.words)}</td></tr>`,
  );
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<title>${title}, ${when(begunAt)}</title>
<style>
body { font: 14px/1.45 system-ui, sans-serif; margin: 2rem auto; max-width: 60rem; color: #111; background: #fff; }
h1 { font-size: 1.3rem; margin: 0 0 .3rem; } h2 { font-size: 1.05rem; margin: 1.4rem 0 .4rem; }
table { border-collapse: collapse; width: 100%; } th, td { border: 1px solid #888; padding: .3rem .5rem; text-align: left; vertical-align: top; }
.result { font-weight: 700; border: 2px solid #111; padding: .4rem .6rem; display: inline-block; }
tr.missing td:nth-of-type(1), tr.wrong-side td:nth-of-type(1), tr.too-low td:nth-of-type(1), tr.not-announced td:nth-of-type(1), tr.wrong td:nth-of-type(1) { font-weight: 700; }
.sign { margin-top: 2.5rem; display: flex; gap: 2rem; } .sign span { flex: 1; border-top: 1px solid #111; padding-top: .2rem; }
@media print { body { margin: 0; max-width: none; } tr { break-inside: avoid; } }
</style>
</head>
<body>
<h1>${title}</h1>
<p>${safe(railroad.name)}${railroad.demonstration ? " (invented, for demonstration: no real site, no real test)" : ""}. Site ${safe(site)}.</p>
<p>Begun ${when(begunAt)}, ${endedAt === null ? NOT_ENDED[closed] : `ended ${when(endedAt)}`}. Tester: ${safe(tester)}. Rules: ${safe(rules)}.</p>
<p class="result">${result === "passed" ? "PASSED" : "FAILED"}</p>
<p>${safe(words)}</p>
<h2>Devices</h2>
<table><thead><tr><th>device</th><th>result</th><th>as found</th><th>as left</th><th>in words</th></tr></thead><tbody>
${deviceRows.join("\n")}
</tbody></table>
<h2>Checks</h2>
<table><thead><tr><th>check</th><th>result</th><th>in words</th></tr></thead><tbody>
${checkRows.join("\n")}
</tbody></table>
<h2>The site</h2>
<p>Open when the test began: ${listText(conditionsAsFound.map(conditionText))}. Open when it was closed: ${listText(conditionsAsLeft.map(conditionText))}.</p>
<p>Trains that went through meanwhile: ${listText(trains)}.</p>
<p>Parts changed, and what else was done: ______________________________________________</p>
<div class="sign"><span>Tester</span><span>Date</span><span>Taken over by the desk</span></div>
<p>${safe(caution)}</p>
<p>${safe(record.id)}</p>
</body>
</html>
`;
}

const VERDICT = {
  answered: "answered",
  missing: "MISSING",
  "wrong-side": "WRONG SIDE",
  "too-low": "NOT PROVED: too low",
  "not-announced": "NOT ANNOUNCED",
} as const;
const CHECK = {
  "axle-count": "axle count of the simulated train",
  direction: "direction",
  ambient: "ambient against the neighbours",
  announcement: "announcement to the crew",
} as const;

const CHECKED = { right: "right", wrong: "WRONG", "not-checked": "not checked" } as const;
const NOT_ENDED = {
  ended: "ended",
  "left-open": "left open: its end never came",
  "begun-again": "not ended: another one was begun",
} as const;

/** "left bearing scanner", and what the feed calls it. */
function deviceText(device: string): string {
  const words = partWords(deviceParts(device, () => false).part);
  return words === device ? safe(device) : `${safe(words)}<br><small>${safe(device)}</small>`;
}

/** "scanner drifts, track 1, left bearing scanner" for `drift 1/left`. */
function conditionText(condition: string): string {
  const [kind = "", ...device] = condition.split(" ");
  return [conditionWords(kind), deviceWords(device.join(" "))].filter((one) => one !== "").join(", ");
}

function answerText(answer: DeviceAnswer | null, when: (time: string) => string): string {
  if (answer === null) return "no answer";
  const rise = answer.riseF === null ? "" : `, ${answer.riseF.toFixed(0)} °F above ambient`;
  const told = answer.announced === null ? "" : answer.announced ? ", announced" : ", not announced";
  return `${safe(VERDICT[answer.verdict])} ${when(answer.time)}${safe(`${rise}${told}`)}`;
}

/** "2026-03-04 10:28:00 CST (16:28:00 UTC)". */
function timesOf(zone: string): (time: string) => string {
  const clock = wallClockOf(zone);
  return (time) => {
    const { day, hour, minute, second, zoneName } = clock(Date.parse(time));
    const utc = new Date(time).toISOString();
    const utcDay = utc.slice(0, 10) === day ? "" : `${utc.slice(0, 10)} `;
    return safe(`${day} ${hour}:${minute}:${second} ${zoneName} (${utcDay}${utc.slice(11, 19)} UTC)`);
  };
}

function listText(items: readonly string[]): string {
  return items.length === 0 ? "none" : safe(items.join("; "));
}

function safe(text: string): string {
  return text.replaceAll("&", "&amp;").replaceAll("<", "&lt;").replaceAll(">", "&gt;").replaceAll('"', "&quot;");
}
