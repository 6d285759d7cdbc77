import type {
  Axles,
  Consist,
  DeskAction,
  Equipment,
  Fault,
  FunctionalTest,
  Heartbeat,
  PassBegun,
  PassEnded,
} from "../../src/feed/record.ts";

/** One valid record of every type, as in the feed contract. All invented. */

export const begun: PassBegun = {
  type: "pass-begun",
  site: "alder-14",
  track: "1",
  pass: "0117",
  time: "2026-03-04T05:06:07.000Z",
  direction: "rising",
  ambient: 54,
  train: "Q118",
};

export const axles: Axles = {
  type: "axles",
  site: "alder-14",
  track: "1",
  pass: "0117",
  first: 1,
  ms: [0, 85],
  gap: [null, 70.1],
  speed: [46.8, 46.8],
  left: { bearing: [31.5, 33], wheel: [80.2, 81] },
  right: { bearing: [30.1, null], wheel: [79.5, 80.7] },
  tag: [null, "QX 100123"],
};

export const ended: PassEnded = {
  type: "pass-ended",
  site: "alder-14",
  track: "1",
  pass: "0117",
  time: "2026-03-04T05:08:31.000Z",
  axles: 480,
  integrity: ["slow"],
};

export const heartbeat: Heartbeat = {
  type: "heartbeat",
  site: "alder-14",
  time: "2026-03-04T05:10:00Z",
  ambient: 54,
  supplyVolts: 13.2,
  scanners: { "1/left": { reference: 151 }, "1/right": { reference: null } },
};

export const fault: Fault = {
  type: "fault",
  site: "alder-14",
  time: "2026-03-04T05:10:00Z",
  device: "1/left",
  fault: "reference-low",
  cleared: false,
};

export const equipment: Equipment = {
  type: "equipment",
  site: "alder-14",
  track: "1",
  pass: "0117",
  time: "2026-03-04T05:07:00Z",
  kind: "hot-bearing",
  axle: 187,
  side: "right",
  value: 178,
  announced: true,
};

export const functionalTest: FunctionalTest = {
  type: "functional-test",
  site: "alder-14",
  track: "1",
  time: "2026-03-04T09:00:00Z",
  phase: "begun",
  tester: "maintainer",
  expects: ["1/left", "dragging", "high-left", "transducer-1"],
};

export const consist: Consist = {
  type: "consist",
  train: "Q118",
  time: "2026-03-04T02:00:00Z",
  key: false,
  vehicles: [
    { id: "QX 9001", kind: "locomotive", axles: 6 },
    { id: "QX 100123", kind: "car", axles: 4, loaded: true, placarded: false, length: 53.1 },
  ],
};

export const deskAction: DeskAction = {
  type: "desk-action",
  id: "a-1",
  time: "2026-03-04T05:20:00Z",
  by: "desk 2",
  action: "found",
  warning: "alder-14/1/0117@20260304T050607000Z/187/right",
  found: "nothing-found",
  text: "Stick did not melt.\nWent on.",
};

/** Topic and record, one of each type. */
export const samples: [topic: string, record: object][] = [
  ["axle-readings", begun],
  ["axle-readings", axles],
  ["axle-readings", ended],
  ["site-reports", heartbeat],
  ["site-reports", fault],
  ["site-reports", equipment],
  ["site-reports", functionalTest],
  ["consists", consist],
  ["desk-actions", deskAction],
];

export function envelope(topic: string, value: unknown): string {
  return JSON.stringify({ topic, key: "alder-14", value });
}
