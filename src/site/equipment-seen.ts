import { type Edge, riseF as riseOf } from "../feed/edge.ts";
import type { Equipment } from "../feed/record.ts";
import { type Leg, travelSide } from "../journey/journey.ts";
import type { Pass } from "../pass/pass.ts";
import type { VehicleKind } from "../pass/vehicle.ts";
import { REPORT_WORDS } from "./site-words.ts";

/** The vehicle near whose axle a site reported something. */
export interface EquipmentVehicle {
  ordinal: number;
  kind: VehicleKind;
  ordinalOfKind: number;
  id: string | null;
  axleInVehicle: number;
  confidence: number;
}

/** Whether dragging equipment was also seen at the site before or after: told apart, for it says where to look. */
export type DraggingStory = "began-here" | "again" | "gone-at-next";

/** A site's own report, joined with the pass that it is about. A new version when more became known. */
export interface EquipmentSeen {
  type: "equipment-seen";
  id: string;
  version: number;
  time: string;
  site: string;
  track: string;
  /** Pass id; null while its pass has not come. */
  pass: string | null;
  train: string | null;
  kind: Equipment["kind"];
  axle: number | null;
  /** The rail as the site names it, and the side in the direction of travel, as a crew is told. */
  rail: "left" | "right" | null;
  side: "left" | "right" | null;
  vehicle: EquipmentVehicle | null;
  /** What the site reported and what we read of the same axle, °F above ambient. */
  reportedF: number | null;
  oursF: number | null;
  agrees: boolean | null;
  announced: boolean;
  /** Seconds from the report's own time until it came. */
  toldAfterS: number | null;
  dragging: DraggingStory | null;
  words: string;
}

/** Reports waiting for their pass, reports remembered, and what waits for reports; the oldest go. */
export const MOST_WAITING_REPORTS = 500;

/** A pass as it was placed last; `leg` says in which direction it really ran. */
export interface PlacedPass {
  pass: Pass;
  leg: Leg | null;
}

/** A report joined with its pass. `toldAfterS`: seconds until it came; `disagreeF`: how far reading and report may lie apart. */
export function seenOf(
  report: Equipment,
  { pass, leg }: PlacedPass,
  edge: Edge,
  { toldAfterS, disagreeF }: { toldAfterS: number | null; disagreeF: number },
): EquipmentSeen {
  const rail = report.side ?? null;
  const railIndex = rail === null ? null : rail === "left" ? 0 : 1;
  const isHot = report.kind === "hot-bearing" || report.kind === "hot-wheel";
  const reported = isHot && report.value != null ? riseOf(edge, report.value, pass.ambientF) : Number.NaN;
  const row = report.axle == null ? -1 : report.axle - 1;
  const ours = railIndex === null || row < 0 ? Number.NaN : readingOf(report.kind, pass, railIndex, row);
  const off = Math.abs(reported - ours);
  const direction = leg?.direction ?? pass.direction;
  const side = railIndex === null ? null : travelSide(direction, railIndex) === 0 ? "left" : "right";
  const vehicle = vehicleAt(pass, row);
  const agrees = Number.isNaN(off) ? null : off <= disagreeF;
  return {
    type: "equipment-seen",
    id: `E-${report.site}-${report.track}-${report.pass}-${report.kind}-${report.axle ?? 0}-${rail ?? "none"}-${report.time.replace(/[-:.]/g, "")}`,
    version: 1,
    time: report.time,
    site: report.site,
    track: report.track,
    pass: pass.id,
    train: pass.train,
    kind: report.kind,
    axle: report.axle ?? null,
    rail,
    side,
    vehicle,
    reportedF: numberOrNull(reported),
    oursF: numberOrNull(ours),
    agrees,
    announced: report.announced,
    toldAfterS,
    dragging: null,
    words: wordsOf(report, vehicle, side, agrees),
  };
}

/** Whether a report speaks of a pass: by site, track and the site's own number of it. */
export function isSamePass(id: string, report: Equipment): boolean {
  return id.startsWith(`${report.site}/${report.track}/${report.pass}@`);
}

function readingOf(kind: Equipment["kind"], pass: Pass, rail: 0 | 1, row: number): number {
  if (kind === "hot-bearing") return pass.bearingRiseF[rail][row] ?? Number.NaN;
  return kind === "hot-wheel" ? (pass.wheelRiseF?.[rail][row] ?? Number.NaN) : Number.NaN;
}

function vehicleAt(pass: Pass, row: number): EquipmentVehicle | null {
  const vehicle = row < 0 ? undefined : pass.vehicles[pass.vehicleOfAxle[row] ?? -1];
  if (vehicle === undefined) return null;
  const { ordinal, kind, ordinalOfKind, id, confidence, firstRow } = vehicle;
  return { ordinal, kind, ordinalOfKind, id, axleInVehicle: row - firstRow + 1, confidence };
}

function wordsOf(report: Equipment, vehicle: EquipmentVehicle | null, side: string | null, agrees: boolean | null): string {
  const near = report.kind === "hot-bearing" || report.kind === "hot-wheel" ? "" : "near ";
  const where =
    vehicle === null
      ? `${near}axle ${report.axle ?? "unknown"}`
      : `${near}axle ${vehicle.axleInVehicle} of ${vehicle.kind} ${vehicle.ordinalOfKind} from the head${vehicle.id === null ? "" : ` (${vehicle.id})`}`;
  const said = agrees === null ? "" : agrees ? " Its reading of the axle agrees." : " Its reading of the axle does not agree.";
  return `${capital(REPORT_WORDS[report.kind])} at ${where}${side === null ? "" : `, ${side} side`}; ${report.announced ? "announced to the crew" : "not announced to the crew"}.${said}`;
}

function capital(words: string): string {
  return words.charAt(0).toUpperCase() + words.slice(1);
}

/** A temperature as it is told. */
export function riseWords(value: number | null): string {
  return value === null ? "nothing" : `${value.toFixed(0)} °F above ambient`;
}

function numberOrNull(value: number): number | null {
  return Number.isNaN(value) ? null : value;
}
