import type { Past } from "../../src/desk/past/past.ts";
import type { DeskAction } from "../../src/feed/record.ts";
import type { Warning } from "../../src/warning/warning.ts";

/** Warnings and actions made by hand; everything invented. */

export const START_MS = Date.parse("2026-03-04T12:00:00Z");
export const MINUTE_MS = 60_000;

export function warning(over: Partial<Warning> = {}): Warning {
  return {
    id: "W-0001",
    version: 1,
    time: new Date(START_MS).toISOString(),
    level: "warn",
    state: "unacknowledged",
    correction: false,
    supersededBy: null,
    corridor: "alder",
    site: "coldrill-44",
    track: "1",
    pass: "coldrill-44/1/0001@20260304T115500000Z",
    direction: "rising",
    train: "Q118",
    journey: "J-alder-14/1/0001@20260304T110000000Z",
    axle: 187,
    side: "right",
    vehicle: {
      ordinal: 49,
      ordinalOfKind: 47,
      kind: "car",
      id: null,
      axleInVehicle: 3,
      axlesInVehicle: 4,
      truck: 2,
      trucks: 2,
      axleInTruck: 1,
      confidence: 1,
    },
    place: "car 47 from the head, first axle of its rear truck, right side in the direction of travel (axle 187)",
    heat: "bearing",
    riseF: 103,
    leveledF: 70,
    slopeFPerMile: 5,
    slopeFPerMinute: 3.75,
    limitF: 170,
    chances: { rising: 0.9, steady: 0.05, wandering: 0.03, healthy: 0.02, beforeNextSite: 0.3, beforeNextButOne: 0.6 },
    crossing: { miles: 13, low: 8, high: 24, minutes: 17, milepost: 57, line: "Alder Line", chance: 0.3 },
    nextSite: { site: "dunmere-53", miles: 9 },
    setOut: { place: "p", name: "Coldrill North", milepost: 48, miles: 4, carLengths: 10 },
    lastSeenMiles: 0,
    evidence: [],
    reasons: ["It rises."],
    rules: "standard-2026-03",
    advice: "Stop.",
    caution: "Advice only.",
    ...over,
  };
}

let made = 0;

export function action(over: Partial<DeskAction> & Pick<DeskAction, "action">): DeskAction {
  made++;
  return {
    type: "desk-action",
    id: `act/${made}`,
    time: new Date(START_MS + made * 1_000).toISOString(),
    by: "Ada",
    warning: "W-0001",
    ...over,
  };
}

/** What an audit of a window finds. */
export async function actionsIn(past: Past, fromMs: number, toMs: number): Promise<{ arrivedMs: number; action: DeskAction }[]> {
  const found: { arrivedMs: number; action: DeskAction }[] = [];
  await past.actions(fromMs, toMs, (one) => found.push(one));
  return found;
}
