/**
 * Every number the simulator takes for true, in one place, with where it is from. None of it is a measurement of ours.
 * [P] read in the primary publication, [S] quoted from it elsewhere, [M] from memory, not confirmed; "assumption": ours.
 * What differs between worlds is in worlds.ts. Nothing outside this folder reads these numbers.
 */
export type Grade = "[P]" | "[S]" | "[M]" | "assumption";

export interface Assumption {
  name: string;
  value: number;
  unit: string;
  grade: Grade;
  words: string;
}

const list: Assumption[] = [];

function assume(name: string, value: number, unit: string, grade: Grade, words: string): number {
  list.push({ name, value, unit, grade, words });
  return value;
}

/** All of them, in order. */
export const ASSUMPTIONS: readonly Assumption[] = list;

// Limits and physics
export const LIMIT_RISE_F = assume(
  "limit",
  170,
  "°F",
  "[P]",
  "a site's own hard limit, above ambient; also what `crossing` in the truth means (scholarworks.utrgv.edu/me_fac/185)",
);
export const HEATING_MAX_F_PER_MINUTE = assume(
  "fastest heating",
  12.8,
  "°F/min",
  "[P]",
  "FRA, Kesler and Tinto 1989, read as °F; only bursts, labelled so, are faster",
);
export const COOLING_MAX_F_PER_MINUTE = assume("fastest cooling", 7.2, "°F/min", "[P]", "same test");
export const TAU_LOW_MINUTES = assume("time constant, low", 22, "min", "[M]", "first-order response of a bearing, drawn per train");
export const TAU_HIGH_MINUTES = assume("time constant, high", 42, "min", "[M]", "about 30 min is an estimate");
export const REHEAT_F_PER_MINUTE = assume(
  "reheating after a stop",
  5,
  "°F/min",
  "assumption",
  "how fast a defective bearing comes back to where it was",
);

// Healthy bearings
export const HEALTHY_RISE_F = assume(
  "healthy rise, mean of trains",
  40,
  "°F",
  "[M]",
  "loaded, warm, at 45 mph: about 20 to 60 °F above ambient",
);
export const HEALTHY_TRAIN_SD_F = assume("healthy rise, between trains", 7, "°F", "assumption", "standard deviation of a train's level");
export const HEALTHY_BEARING_SD_F = assume(
  "healthy rise, between bearings",
  6,
  "°F",
  "assumption",
  "persistent offset of each bearing within its train",
);
export const HEALTHY_SKEW = assume(
  "healthy rise, skew",
  0.25,
  "",
  "assumption",
  "offsets are stretched upwards by this share of their excess over one sd",
);
export const LOCOMOTIVE_RISE_F = assume("locomotive bearings", 12, "°F", "assumption", "warmer than those of cars, and scattering more");
export const LOCOMOTIVE_SD_F = assume("locomotive bearings, scatter", 9, "°F", "assumption", "");
export const WANDER_SD_F = assume("wander of a bearing", 2.5, "°F", "assumption", "slow change along the way");
export const WANDER_MILES = assume("wander, miles to forget", 60, "mi", "assumption", "");
export const SIDE_SD_F = assume(
  "difference of a train's sides",
  1.5,
  "°F",
  "assumption",
  "per train and pass: wind, curves, sun on the train",
);
export const EMPTY_FACTOR = assume("empty cars", 0.7, "x", "assumption", "their rise against a loaded car's");
export const SPEED_SHARE = assume("share of rise that goes with speed", 0.35, "", "assumption", "rise = share x mph / 45 + the rest");
export const WARM_LOW_F = assume("warm runners, least", 18, "°F", "assumption", "on top of a healthy bearing, all day");
export const WARM_MEAN_F = assume(
  "warm runners, exponential mean above the least",
  40,
  "°F",
  "assumption",
  "before it is cut off at the most; see the share without a defect",
);
export const WARM_MOST_F = assume(
  "warm runners, most",
  170,
  "°F",
  "assumption",
  "beyond what a site lets pass: the tail must not end just under the limit, or no plain limit would ever stop a train for nothing",
);
export const NO_DEFECT_TRIPS_SHARE = assume(
  "bearings that trip 170 °F or a 95 °F axle difference: without a defect",
  0.4,
  "",
  "[P]",
  "about 40 % of removed bearings had none (me_fac/186). Nothing is drawn by it: warm runners, roll-overs and plateaus are made so hot and so common that the ordinary world comes near it (36 %)",
);

// Developing bearings
export const SHARE_SLOW = assume("developing: slow", 0.36, "", "assumption", "100 to 300 miles from onset to the limit");
export const SHARE_MEDIUM = assume("developing: medium", 0.34, "", "assumption", "40 to 100 miles");
export const SHARE_FAST = assume("developing: fast", 0.2, "", "assumption", "15 to 40 miles");
export const SHARE_BURST = assume("developing: burst", 0.1, "", "assumption", "3 to 12 miles, mostly inside one gap");
export const DIP_SHARE = assume(
  "developing: with a dip",
  0.2,
  "",
  "assumption",
  "falls back by a quarter to a half for a while, then goes on",
);
export const STALL_SHARE = assume("developing: with a stall", 0.2, "", "assumption", "stands still for a while, then goes on");
export const CURVE_F_PER_MINUTE = assume(
  "steepest curve",
  9.5,
  "°F/min",
  "assumption",
  "of a defect that is not a burst, at its train's speed; leaves room for reheating under the published fastest",
);
export const BURST_F_PER_MINUTE = assume("steepest burst", 40, "°F/min", "assumption", "deliberately beyond what was published");
export const FAILURE_LOW_F = assume("failure, least over the limit", 90, "°F", "assumption", "the rise at which a bearing fails");
export const FAILURE_HIGH_F = assume("failure, most over the limit", 260, "°F", "assumption", "");
export const CROSSES_SHARE = assume(
  "developing: onset chosen so that the limit lies on the way",
  0.8,
  "",
  "assumption",
  "the others are drawn anywhere; many of them end the journey under the limit",
);
export const ROLL_PEAK_LOW_F = assume(
  "roll-over, lowest peak",
  35,
  "°F",
  "assumption",
  "a trend that ends by itself (roller misalignment: me_fac/183 says that it happens)",
);
export const ROLL_PEAK_HIGH_F = assume("roll-over, highest peak", 130, "°F", "assumption", "");
export const PLATEAU_LOW_F = assume("plateau, lowest", 35, "°F", "assumption", "a rise that stops under the limit and stays");
export const PLATEAU_HIGH_F = assume("plateau, highest", 120, "°F", "assumption", "");

// Brakes and wheels
export const WHEEL_RISE_F = assume("wheels, mean", 72, "°F", "assumption", "above ambient, not braking");
export const WHEEL_SD_F = assume("wheels, scatter", 11, "°F", "assumption", "");
export const BRAKING_SHARE = assume("passes while braking", 0.06, "", "assumption", "operating rules ask to avoid it ([S])");
export const BRAKING_WHEEL_F = assume("braking: wheels", 90, "°F", "assumption", "mean added to every wheel");
export const BRAKING_BEARING_F = assume(
  "braking: bearings",
  5,
  "°F",
  "assumption",
  "mean added to every bearing reading; a rule says that braking over a site may cause false indication ([S])",
);
export const HOT_WHEEL_LOW_F = assume(
  "hot wheel, least",
  350,
  "°F",
  "assumption",
  "stuck brakes; 500 °F is the usual limit ([P], absolute)",
);
export const HOT_WHEEL_HIGH_F = assume("hot wheel, most", 850, "°F", "assumption", "");
export const HOT_WHEEL_WHOLE_CAR = assume(
  "stuck brakes: whole car",
  0.6,
  "",
  "assumption",
  "others: one axle, both its wheels. A study found one hot wheel or the whole car, by grade ([P])",
);
export const HOT_WHEEL_BEARING_LOW_F = assume(
  "hot wheel: bearing, least",
  2,
  "°F",
  "assumption",
  "the effect was minimal in the tested condition (JRC2009-63055, [P]); the figure is ours",
);
export const HOT_WHEEL_BEARING_HIGH_F = assume("hot wheel: bearing, most", 55, "°F", "assumption", "so that brakes can look like bearings");

// Scanners and transducers
export const UNDER_READ_MOST_F = assume(
  "under-read, most",
  85,
  "°F",
  "[P]",
  "infrared against thermocouples, 21 sites, 16 bearings (me_fac/185)",
);
export const NULL_SHARE = assume("readings not taken", 0.0004, "", "assumption", "null, per reading");
export const GAP_NOISE_INCHES = assume("noise of a measured spacing", 0.7, "in", "assumption", "");
export const SLACK_INCHES = assume(
  "slack between cars",
  0.8,
  "in",
  "assumption",
  "differs from pass to pass as the train is stretched or bunched",
);
export const GAP_SCALE_SD = assume("spacing scale of a site", 0.005, "", "assumption", "cut at 1 %");
export const DOUBLED_GAP_LOW_INCHES = assume("axle counted twice: gap, least", 2, "in", "assumption", "");
export const DOUBLED_GAP_HIGH_INCHES = assume("axle counted twice: gap, most", 14, "in", "assumption", "");
export const AMBIENT_SITE_SD_F = assume("ambient between sites", 2, "°F", "assumption", "");
export const HEARTBEAT_MINUTES = assume("heartbeat", 5, "min", "assumption", "");
export const DELAY_SECONDS = assume("way to the desk", 1.5, "s", "assumption", "from a site to the log, mean, differs by site");

// Trains
export const MEDIAN_TRAIN_FEET = assume("median train", 5400, "ft", "[P]", "2021");
export const LONG_TRAIN_FEET = assume("one train in ten is longer than", 9800, "ft", "[P]", "2021");
export const LONGEST_TRAIN_FEET = assume("longest train", 14500, "ft", "assumption", "");
export const SHORTEST_TRAIN_FEET = assume("shortest train", 900, "ft", "assumption", "");
export const TRUCK_CENTRE_SD_INCHES = assume("truck centres, between cars of one kind", 0.2, "in", "assumption", "manufacture and wear");
export const OVERHANG_SD_INCHES = assume(
  "last axle to coupler face, between cars of one kind",
  0.6,
  "in",
  "assumption",
  "draft gear and coupler wear",
);
export const WHEELBASE_SD_INCHES = assume("wheelbase, between trucks of one kind", 0.06, "in", "assumption", "");
export const SIDING_MILES = assume(
  "from a site to where trains wait",
  2,
  "mi",
  "assumption",
  "a train holds this far beyond a site, for meets and stops",
);
export const HEADWAY_MINUTES = assume("headway", 9, "min", "assumption", "between trains that follow each other out of a stretch");
export const LOOK_ALIKE_MINUTES = assume("look-alike trains follow after", 25, "min", "assumption", "");
export const ALARM_STOP_LOW_MINUTES = assume("stop after a site's alarm, least", 35, "min", "assumption", "the crew walks the train");
export const ALARM_STOP_HIGH_MINUTES = assume("stop after a site's alarm, most", 80, "min", "assumption", "");
export const CRITICAL_RISE_F = assume(
  "too hot to move",
  200,
  "°F",
  "[S]",
  "one railroad's critical rise; without a set-out place ahead the wheelset is changed on the spot (assumption)",
);
export const REPAIR_LOW_MINUTES = assume("wheelset changed on the line, least", 150, "min", "assumption", "");
export const REPAIR_HIGH_MINUTES = assume("wheelset changed on the line, most", 300, "min", "assumption", "");
export const RESTRICTED_MPH = assume("speed with a reported bearing", 30, "mph", "[S]", "to the next detector or set-out place");

// What else is drawn
export const SLOW_SHARE = assume("passes under 10 mph", 0.004, "", "assumption", "");
export const HALT_SHARE = assume("passes with a stop over the site", 0.0015, "", "assumption", "2 to 15 minutes");
export const OVERTAKE_SHARE = assume(
  "stretches with an overtake",
  0.04,
  "",
  "assumption",
  "a train that need not stay behind a slower one",
);
export const MEET_MINUTES = assume("a meet on single track", 8, "min", "assumption", "mean standing time of one of the trains");
export const TURN_MILES = assume("from the last site to where trains turn, both ways", 3, "mi", "assumption", "");
export const PART_OF_ROUTE_SHARE = assume("trains over part of a route", 0.15, "", "assumption", "");
export const KEY_SHARE = assume("key trains among those with a consist", 0.05, "", "assumption", "");
export const START_WARMTH_LOW = assume("warmth on setting out, least", 0.15, "", "assumption", "share of the rise it will have when warm");
export const START_WARMTH_HIGH = assume("warmth on setting out, most", 0.7, "", "assumption", "");
export const ID_MISSING_SHARE = assume("passes without the train's id", 0.05, "", "assumption", "of trains that have one");
export const TAG_READ_SHARE = assume("vehicle tags read", 0.97, "", "assumption", "at sites with a reader");
export const MISMATCH_TOLD_SHARE = assume("miscounts that the site notices", 0.4, "", "assumption", "`count-mismatch`");
export const DRAGGING_SHARE = assume("passes with a dragging report", 0.002, "", "assumption", "");
export const UNDER_READ_LOW_SHARE = assume("under-read, least share of the rise", 0.12, "", "assumption", "");
export const UNDER_READ_HIGH_SHARE = assume("under-read, most", 0.85, "", "assumption", "never over the published 85 °F");
export const COLD_SEES_SHARE = assume("cold scanner: share of the rise it sees", 0.06, "", "assumption", "");
export const COLD_TOLD_SHARE = assume("cold scanner: heartbeats that show it", 0.3, "", "assumption", "in its reference value");
export const ICE_SEES_LOW_SHARE = assume("ice: least share of the rise that gets through", 0.35, "", "assumption", "");
export const ICE_SEES_HIGH_SHARE = assume("ice: most", 0.9, "", "assumption", "");
export const ALARM_REPORTS = assume("reports of one pass", 8, "", "assumption", "a site reports at most so many hot bearings and wheels");

/** The list for people. */
export function assumptionsText(): string {
  const lines = ["What the simulator takes for true ([P] primary source, [S] quoted, [M] from memory; the rest are our assumptions):", ""];
  const nameWidth = Math.max(...list.map((item) => item.name.length));
  for (const item of list) {
    const value = `${item.value}${item.unit === "" ? "" : ` ${item.unit}`}`;
    lines.push(`${item.name.padEnd(nameWidth)}  ${value.padStart(12)}  ${item.grade.padEnd(10)}  ${item.words}`.trimEnd());
  }
  return lines.join("\n");
}
