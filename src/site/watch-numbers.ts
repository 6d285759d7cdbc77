/**
 * What the watch over the sites holds against, where a railroad may not set it (what it may is in `site-rules.ts`). All are
 * our assumptions until a railroad's own experience says better, unless a source is named.
 */

/** A heartbeat interval is never taken for shorter than this, in milliseconds: bursts after a reconnect are no interval. */
export const SHORTEST_INTERVAL_MS = 60_000;
/** Heartbeat gaps that the usual interval is the middle of. */
export const GAPS_KEPT = 7;
/** A site's own word is believed this far ahead of time as we know it: marks of time and other sites' words come a little later. */
export const AHEAD_SLACK_MS = 2 * 60_000;
/** A site that missed so much of its interval may have fallen silent together with the one just found dead. */
export const MISSED_SHARE = 1.2;

/** After a train reached the next site, a pass of the site between is waited for this long: the feeds of two sites are seconds apart. */
export const PASS_GRACE_MS = 3 * 60_000;

/** Samples of a site's clock against ours that make a level, and how far they may scatter for it. */
export const CLOCK_SAMPLES = 4;
export const CLOCK_SCATTER_MS = 45_000;
/** A step between two samples that is no drift. */
export const CLOCK_STEP_MS = 60_000;
/** Hours of clock levels kept, to tell a drift from a jump. */
export const CLOCK_LEVELS = 48;

/**
 * Tests that run all the time answer wrongly once in so many passes of a site, on average (a year has some 15,000 on a busy
 * line): the decision interval of a sum of log likelihood ratios is the logarithm of it (Lorden 1971, from memory).
 */
export const FALSE_ALARM_PASSES = 1_000_000;
export const DECISION_NATS = Math.log(FALSE_ALARM_PASSES);

/** Differences of a train's side between two sites: scatter of the difference of its two sides, and of both sides together, °F. */
export const SIDE_SD_F = 3;
export const TRAIN_SD_F = 5;
/** Share of what the railroad calls a drift that the sums allow for, and what the averaged deviation must have come to. */
export const DRIFT_ALLOWANCE_SHARE = 0.8;
export const DRIFT_AVERAGE_SHARE = 0.8;
/** Both where the two sites compared with lie on one side, at the end of a line: they share what the train did on the way. */
export const DRIFT_SHARE_AT_END = 1;
/** Learned biases in a row, one an hour with trains, that must say the same: one hour of few trains is no drift. */
export const BIASES_IN_A_ROW = 4;
/** And the readings of the passes themselves, averaged, must be off the same way by this share of a drift: a bias learned in a wild hour stays for hours. */
export const BIAS_SUPPORT_SHARE = 0.5;
/** Decision interval of the sums over °F, in standard deviations; with an allowance of two or more the average run length is over 10^9. */
export const DECISION_SDS = 4;
/** No single train decides: one pass adds at most this share of the decision interval. */
export const MOST_OF_DECISION = 0.4;
/** A sudden drop reaches its decision within this time. */
export const SUDDEN_MS = 12 * 3_600_000;
/** Beyond this a side is not warmed by the sun, °F. */
export const SUN_MOST_F = 25;
/** Days on which a side must have been warm at about the same hour to call it the sun, and days after which it is forgotten. */
export const SUN_DAYS = 2;
export const SUN_FORGOTTEN_MS = 4 * 24 * 3_600_000;
export const SUN_SAME_HOUR_MS = 4 * 3_600_000;

/** A scanner that is cold sees at most this share of the rise; a well one sees all of it, give or take. */
export const COLD_SEES_SHARE = 0.35;
export const COLD_SD_F = 6;
export const COLD_SD_SHARE = 0.2;
/** And its readings lie closer together, as a logarithm of their spread: one that only reads too low is no cold one. */
export const COLD_SPREAD = -0.15;
/** Under this a train is too cold to tell, °F. */
export const WARM_TRAIN_F = 20;
/** A bias that was learned is allowed for up to this, °F: beyond, it may have been learned from a cold scanner. */
export const COLD_BIAS_MOST_F = 10;
/** Passes of a rail without (most of) its readings: usual share, and that of a blind scanner. */
export const BLIND_USUALLY = 0.002;
export const BLIND_WHEN = 0.5;
/** Spread of a rail against the neighbours', as a logarithm: scatter and allowance. */
export const SPREAD_SD = 0.14;
export const SPREAD_ALLOWANCE = 0.28;
/** Passes in a row that are well before a cold, blind or noisy scanner is believed again. */
export const WELL_AGAIN_PASSES = 3;
/** Passes over which a deviation is averaged for showing and for clearing. */
export const AVERAGED_PASSES = 8;
/** A drift is over when the averaged deviation, and the learned bias, are under these shares of what the railroad calls one. */
export const DRIFT_CLEAR_SHARE = 0.4;
export const BIAS_CLEAR_SHARE = 0.6;
/** A train slower than this from site to site stood somewhere and cooled: nothing is compared. */
export const LONGEST_WAY_HOURS = 4;
/** Fewer axles say little about a scanner. */
export const FEWEST_AXLES = 24;

/** Self-test references that make the usual value, and how far off one must be, in standard deviations and °F or °C. */
export const REFERENCES_LEARNED = 12;
export const REFERENCE_SDS = 8;
export const REFERENCE_SD_LEAST = 1.5;
export const REFERENCE_USUALLY = 0.001;
export const REFERENCE_WHEN = 0.2;
export const REFERENCES_WELL_AGAIN = 12;

/** Doubt left at the confidence bound of a miscount rate, which is asked after every train; and the trains that must show it. */
export const MISCOUNT_DOUBT = 1e-3;
export const MISCOUNT_TRAINS = 4;
/** Axles over which miscounts are counted; and fewer than this many miscounts are never a rate. */
export const MISCOUNT_AXLES = 12_000;
export const FEWEST_MISCOUNTS = 6;
/** Chance under which missed axles are not spread over both directions by accident. */
export const ONE_DIRECTION_DOUBT = 0.01;
/** Share of counted axles without a speed over which the transducer reached second is named. */
export const NO_SPEED_SHARE = 0.01;

/** Trains between two sites that make a spacing scale, and how sure it must be in standard errors. */
export const SCALE_TRAINS = 6;
export const SCALE_TRAINS_MOST = 16;
export const SCALE_ERRORS = 3;
/** Comparisons with others after which a neighbour that was not among them is forgotten: a site that was only compared while the one between was down. */
export const SCALE_FORGOTTEN_AFTER = 3 * SCALE_TRAINS_MOST;
/** Speeds sampled of a pass, against distance over time. */
export const SPEEDS_SAMPLED = 9;

/** Alarm rates against the network's, per axle: what is still usual, and what is not (heterogeneous traffic). */
export const OFTEN_USUALLY = 2.5;
export const OFTEN_WHEN = 10;
export const NEVER_USUALLY = 0.25;
export const NEVER_WHEN = 0.02;
/** False answers of either, a site and test. */
export const RATE_FALSE_SHARE = 1e-5;
/** Alarms the network must have had before a rate means anything. */
export const FEWEST_NETWORK_ALARMS = 30;

/** Trains of a site over which it is counted at how many of them records were rejected. */
export const SPOILT_TRAINS_OF = 8;
