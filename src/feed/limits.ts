/**
 * What the feed contract bounds, with the reason for each. All are ours ("assumption") unless a source is named; they are
 * wide on purpose: a limit here keeps nonsense out, what is merely unusual is for the folds to judge.
 */

/** Biggest record, as JSON: 64 axles as columns are about 3 kB, a consist of 1,000 vehicles about 100 kB. */
export const RECORD_BYTES = 256 * 1024;
/** A line of a feed file: a record written as an escaped string can double, and the envelope comes on top. */
export const LINE_BYTES = 2 * RECORD_BYTES + 4096;
/** How much of a rejected record is kept with it. */
export const RAW_BYTES = 16 * 1024;

/** Axles a record: a truck, a car or a few cars; small enough that one bad record costs little. */
export const AXLES_A_RECORD = 64;
/** Axles a pass: more than twice the 870 of the longest published example train (NTSB RRD23FR011, [D]). */
export const AXLES_A_PASS = 2000;
/** Duration of a pass: a 2-mile train at 1 mph. */
export const PASS_MS = 2 * 3600 * 1000;
/** Vehicles of a consist: no vehicle has fewer than two axles. */
export const VEHICLES_A_CONSIST = AXLES_A_PASS / 2;
/** Axles of one vehicle: the largest heavy-haul cars have about 40 (from memory). */
export const AXLES_A_VEHICLE = 64;
/** Devices a site can name in one report: 8 tracks with 8 devices each. */
export const DEVICES_A_SITE = 64;

export const ID_CHARS = 64;
/** Ids that the processor makes are put together from several ids. */
export const MADE_ID_CHARS = 256;
export const TEXT_CHARS = 2000;

/** °F or °C, above ambient or absolute: from below the coldest air (about -130 °F) to well over red-hot steel. */
export const TEMPERATURE_LOW = -150;
export const TEMPERATURE_HIGH = 2000;
/** Ambient, °F or °C: no air on earth is outside in either unit. */
export const AMBIENT_LOW = -130;
export const AMBIENT_HIGH = 150;
/** Distance from the previous axle: 100 m in the smallest unit (mm); the longest cars have about 90 ft between axles. */
export const GAP_HIGH = 100_000;
/** mph or km/h: above the rail speed record (357 mph, from memory). */
export const SPEED_HIGH = 600;
/** Supply of a site: battery or mains. */
export const SUPPLY_VOLTS_HIGH = 1000;
/** Value of a site's own equipment report: a temperature, or a height or width in any unit down to mm. */
export const EQUIPMENT_VALUE_HIGH = 100_000;
/** Length of a vehicle, feet or metres. */
export const VEHICLE_LENGTH_HIGH = 1000;
