import type { Journey } from "../journey/journey.ts";
import type { Vehicle } from "../pass/vehicle.ts";

/**
 * A train's vehicles are the same from site to site, and hundreds of its passes may be kept: vehicles of the newest leg that
 * equal those of the leg before are held once. Changes nothing that can be seen but the memory.
 */
export function shareVehicles(journey: Journey): void {
  const now = journey.legs.at(-1)?.pass.vehicles;
  const last = journey.legs.at(-2);
  // A packed leg holds none: they would be made anew to be shared.
  if (now === undefined || last === undefined || last.packed != null) return;
  const before = last.pass.vehicles;
  const count = Math.min(now.length, before.length);
  for (let i = 0; i < count; i++) {
    const known = before[i] as Vehicle;
    if (isSame(now[i] as Vehicle, known)) now[i] = known;
  }
}

function isSame(a: Vehicle, b: Vehicle): boolean {
  return (
    a.firstRow === b.firstRow &&
    a.axles === b.axles &&
    a.kind === b.kind &&
    a.ordinal === b.ordinal &&
    a.ordinalOfKind === b.ordinalOfKind &&
    a.confidence === b.confidence &&
    a.id === b.id &&
    a.odd === b.odd &&
    a.trucks.length === b.trucks.length &&
    a.trucks.every((axles, at) => axles === b.trucks[at])
  );
}
