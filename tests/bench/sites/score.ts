import type { Label } from "./label.ts";
import { HOUR_MS, type Raised, type Week } from "./week.ts";

/** What a week showed: hours until each label was found, and what was raised for nothing. */
export interface Score {
  found: number[];
  missed: number;
  plainFound: number[];
  plainMissed: number;
  falsely: Raised[];
  plainFalsely: number;
  siteYears: number;
}

/** After a fault is over its traces are still being settled. */
const AFTER_HOURS = 12;
const DAYS_A_YEAR = 365.25;

export function score({ labels, raised, plain, biased, isCalendarDue, sites, days }: Week): Score {
  const found = labels.map((label) =>
    firstHours(
      label,
      raised.filter((one) => answers(label, one)),
    ),
  );
  const plainFound = labels.map((label) =>
    firstHours(
      label,
      plain.filter((one) => label.plain.includes(one.what) && one.site === label.site),
    ),
  );
  return {
    found: found.filter((hours): hours is number => hours !== null),
    missed: found.filter((hours) => hours === null).length,
    plainFound: plainFound.filter((hours): hours is number => hours !== null),
    plainMissed: plainFound.filter((hours) => hours === null).length,
    falsely: raised.filter(
      (one) =>
        !one.information &&
        !isTrue(one, biased, raised) &&
        !(isCalendarDue && one.words.startsWith("The functional test of")) &&
        !labels.some((label) => explains(label, one)),
    ),
    plainFalsely: plain.filter((one) => !labels.some((label) => isDuring(label, one.atMs) && one.site === label.site)).length,
    siteYears: (sites * days) / DAYS_A_YEAR,
  };
}

/**
 * True whatever was injured: a scanner far off as built, and the test asked for with it; an alarm that really was not sent, for a
 * simulated site sends at most eight reports a pass, hot wheels first.
 */
function isTrue({ site, device, kind, atMs, words }: Raised, biased: ReadonlySet<string>, raised: readonly Raised[]): boolean {
  if (kind === "drift") return biased.has(`${site} ${device}`);
  if (kind === "test-due")
    return raised.some((one) => one.kind === "drift" && one.site === site && one.atMs === atMs && biased.has(`${site} ${one.device}`));
  return kind === "desk-not-told" && words.includes("no alarm of the site came");
}

function answers(label: Label, { site, device, kind }: Raised): boolean {
  return (
    site === label.site &&
    label.answers.includes(kind) &&
    (label.device === "" || device === "" || device.split("/")[0] === label.device.split("/")[0])
  );
}

/** Of the same site nearly everything during a fault and just after it; elsewhere only what such a fault is known to bring. */
function explains(label: Label, { site, device, kind, atMs }: Raised): boolean {
  if (!isDuring(label, atMs)) return false;
  // A scanner that is cold reads too low as well.
  if (site === label.site && device === label.device && kind === "drift" && label.answers.includes("cold-scanner")) return true;
  if (site === label.site) return label.answers.includes(kind) || label.besides?.includes(kind) === true || kind === "test-due";
  return label.besides?.includes(kind) === true;
}

function isDuring({ fromMs, toMs }: Label, atMs: number): boolean {
  return atMs >= fromMs && atMs <= toMs + AFTER_HOURS * HOUR_MS;
}

function firstHours({ fromMs, toMs }: Label, all: readonly { atMs: number }[]): number | null {
  const times = all.map(({ atMs }) => atMs).filter((atMs) => atMs >= fromMs && atMs <= toMs + AFTER_HOURS * HOUR_MS);
  return times.length === 0 ? null : (Math.min(...times) - fromMs) / HOUR_MS;
}

export function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[sorted.length >> 1] ?? Number.NaN;
}
