import type { ConditionKind } from "./condition.ts";

/** What is the matter with a site, in the words of people. */
const CONDITIONS: Readonly<Record<ConditionKind, string>> = {
  dead: "dead",
  connection: "cut off",
  silent: "silent",
  late: "records late",
  clock: "clock off",
  direction: "direction reversed",
  miscount: "axles miscounted",
  scale: "spacings off",
  "cold-scanner": "scanner sees next to nothing",
  "blind-scanner": "scanner sees nothing",
  drift: "scanner reads off",
  "noisy-scanner": "scanner noisy",
  snow: "snow or dirt on the scanners",
  sun: "sun on a scanner",
  "self-test": "self-test off",
  "never-alarms": "never sends its alarm",
  "alarms-often": "alarms too often",
  "not-announced": "crew not told of alarms",
  "desk-not-told": "desk not told of alarms",
  "report-disagrees": "its reports disagree",
  "test-due": "functional test due",
  "test-overdue": "functional test overdue",
  "test-failed": "functional test failed",
  "test-open": "functional test not ended",
  "out-of-service": "out of service",
  units: "units doubted",
  fault: "reports a fault",
  "feed-quality": "records spoilt",
};

/** A kind that this program does not know (yet) is told as it is, readable at least. */
export function conditionWords(kind: string): string {
  return Object.hasOwn(CONDITIONS, kind) ? CONDITIONS[kind as ConditionKind] : kind.replaceAll("-", " ");
}

/** Of a device's own part, without its track. */
const PARTS: readonly [pattern: RegExp, words: string][] = [
  [/^(left|right)(?:-bearing)?$|^bearing-(left|right)$/, "$1$2 bearing scanner"],
  [/^wheel-(left|right)$|^(left|right)-wheel$/, "$1$2 wheel scanner"],
  [/^(high|wide|dragging)-(left|right)$|^(left|right)-(high|wide|dragging)$/, "$4$1 detector, $2$3"],
  [/^(high|wide|dragging)$/, "$1 detector"],
  [/^transducer-(\d+)$/, "wheel transducer $1"],
  [/^axles-(\d+)$/, "axle count ($1)"],
  [/^simulated-train$/, "axle count"],
  [/^direction-(rising|falling)$/, "direction ($1)"],
];

/**
 * "track 1, left bearing scanner" for `1/left`; "" for a whole site. Names of devices: `test-devices.ts`. `isTrack` says which
 * names without a track in front are tracks; who does not know the line goes by how they look.
 */
export function deviceWords(device: string, isTrack: (name: string) => boolean = looksLikeTrack): string {
  const { track, part } = deviceParts(device, isTrack);
  return [track === "" ? "" : `track ${track}`, partWords(part)].filter((one) => one !== "").join(", ");
}

/** The track and the part of a name of a device; either may be "". */
export function deviceParts(device: string, isTrack: (name: string) => boolean): { track: string; part: string } {
  const cut = device.indexOf("/");
  if (cut >= 0) return { track: device.slice(0, cut), part: device.slice(cut + 1) };
  return isTrack(device) ? { track: device, part: "" } : { track: "", part: device };
}

/** "left bearing scanner" for `left`; a name that nobody knows as it is, readable at least. */
export function partWords(part: string): string {
  const found = PARTS.find(([pattern]) => pattern.test(part));
  return found === undefined ? part.replaceAll("-", " ") : part.replace(found[0], found[1]);
}

/** A number with or without letters, three letters, or what tracks are called (common practice): `1`, `2E`, `N`, `main`, `siding-2`. */
function looksLikeTrack(name: string): boolean {
  return /^(?:[a-z]{0,3}-?\d+[a-z]?|[a-z]{1,3}|(?:(?:main|siding|north|south|east|west|middle|lead|yard|track)(?:-?\d+)?-?)+)$/i.test(name);
}
