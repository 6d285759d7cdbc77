import type { DayWatch } from "./day-watch.ts";

const DAY_MS = 24 * 3_600_000;
/** A bias of a scanner that is not sound any more, °F: over twice the usual scatter of sound ones. Assumption of the measurement. */
const SICK_F = 8;
/** As the simulator clips a drift. */
const MOST_DRIFT_F = 25;

/**
 * Learned bias at the end of the first day against the true one (its drift counted, sun and faults not), °F. Sound and sick scanners apart.
 */
export function biasErrors(watch: DayWatch): { sound: number[]; sick: number[]; unlearned: number } {
  const errors = { sound: [] as number[], sick: [] as number[], unlearned: 0 };
  for (const site of watch.sites) {
    for (const [device, constantF] of Object.entries(site.biasF)) {
      const learned = watch.firstDay.get(`${site.site}/${device}`);
      if (learned === undefined) {
        errors.unlearned++;
        continue;
      }
      const days = (Date.parse(learned.time) - watch.startMs) / DAY_MS;
      const drift = Math.max(-MOST_DRIFT_F, Math.min(MOST_DRIFT_F, (site.driftFPerDay[device] ?? 0) * days));
      const trueF = constantF + drift;
      (Math.abs(trueF) >= SICK_F ? errors.sick : errors.sound).push(learned.biasF - trueF);
    }
  }
  return errors;
}
