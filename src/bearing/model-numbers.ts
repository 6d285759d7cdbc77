/**
 * Every number of the bearing model, in one place. "Assumption": ours, fitted on labelled simulated days (ordinary world seeds 1 to 12,
 * sparse 1 to 4) by how many failing bearings a warn finds early at equal cost and by the likelihood of what then happened, the
 * published sequences held; looked at on other seeds and worlds. On a real railroad failing bearings are far rarer, and the chances
 * are only as good as these shares. [P] and the like: see DEVELOPERS.md, "Tests".
 */
export interface ModelNumbers {
  /** Share of a side's robust spread that one bearing scatters from site to site; the rest is its own lasting level. Assumption. */
  noiseShareOfSpread: number;
  levelShareOfSpread: number;
  /** Scatter of a reading is never taken for smaller, °F. Assumption. */
  noiseFloorF: number;
  /** Scatter that grows with the heat itself (aim, emissivity), share of the excess. Assumption. */
  noiseShareOfExcess: number;
  /** Chance that a scanner under-reads a bearing; by how much at most: up to 85 °F (me_fac/185 [P]), chance: assumption. */
  underReadChance: number;
  underReadMaxF: number;
  /** The same at a scanner or a side that is doubted, and how much wider its scatter is. Assumption. */
  doubtedUnderReadChance: number;
  doubtedNoiseFactor: number;
  /** Chance of a false high reading (glint, steam, an electric spike), and how high it can be. Assumption. */
  overReadChance: number;
  overReadMaxF: number;

  /** Bearings that run warm all day: share of all, mean of their excess (exponential). Assumption. */
  steadyShare: number;
  steadyMeanF: number;
  /** Of these, the share whose excess goes with the warmth of the whole train (load, speed, time since a stop). Assumption. */
  steadyWithTrain: number;
  /** Scatter of a scanner itself, °F: what the spread of a side holds beyond it goes with the train's warmth. Assumption. */
  scannerNoiseF: number;
  /** How well the warmth of a train is known from that, share of it. Assumption. */
  warmthError: number;
  /** Share of the way back to the warmest of its journey that a cooled train goes by the next sites. Assumption. */
  warmingShare: number;
  /** How far what does not rise strays by then, the limit over its side with it, °F. Assumption. */
  steadySdF: number;
  /** Bearings that wander or roll over: share of all, and kinds of wandering [weight, amplitude °F, length miles]. Assumption. */
  wanderingShare: number;
  wanderings: readonly (readonly [number, number, number])[];

  /**
   * Trends that end by themselves look like failing while they go up: chance per mile that one begins, the height of their peaks (sd
   * of a half-normal), miles for which they go up (exponential), and miles in which they have gained half their variance. Assumption.
   */
  rollOverPerMile: number;
  rollOverPeakF: number;
  rollOverUpMiles: number;
  rollOverHalfMiles: number;

  /** Chance per mile run that a bearing begins to fail. Assumption; on a real railroad far rarer. */
  onsetPerMile: number;
  /** Before the first site of a journey a rise can be this old, and is this much less likely per mile. Assumption. */
  onsetBeforeFirstMiles: number;
  onsetBeforeFirstWeight: number;
  /** Miles from onset to the limit: even in its logarithm between these, fading out beyond with this width (in ln). Assumption. */
  milesToLimitLow: number;
  milesToLimitHigh: number;
  milesToLimitFade: number;
  /**
   * Shapes of a rise, excess ~ miles^power: [weight when failing, weight when ending by itself, power], the plainest
   * first. The flattest one is that of a rise which has settled: no failing bearing has it. Assumption.
   */
  shapes: readonly (readonly [number, number, number])[];
  /** How far a true rise strays from its shape, share of the rise; and how far the heat still to come strays, share of it. Assumption. */
  shapeError: number;
  futureError: number;
  /** Share of the heat still to come by its shape that comes on average while it goes on. Assumption. */
  futureShare: number;
  /** Some rises stall: chance before the sites ahead, and miles from which one is old enough to. Assumption. */
  stallChance: number;
  youngMiles: number;
  /** How a rise bends: its slope wanders by this share of the curve's mean slope and so many °F a mile, with this memory. Assumption. */
  bendShare: number;
  bendFPerMile: number;
  bendMiles: number;
  /** Share of its heat that a hot bearing may lack where its train has cooled all through. Assumption. */
  cooledError: number;

  /** How far the limit over the side of the train may have moved by the next sites (speed, weather, scanner bias), °F. Assumption. */
  limitSdF: number;

  /**
   * Chances as the hypotheses have them, and as they are told: what came of such looks on labelled days (straight lines between the
   * pairs). Rises that seem nearly certain to reach the limit level off just under it now and then. Assumption, fitted.
   */
  toldChances: readonly (readonly [number, number])[];

  /** Heat of brakes on a bearing's reading: per °F of wheel rise above this one. Assumption (JRC2009-63055 [P]: minimal). */
  wheelCoupling: number;
  wheelOrdinaryF: number;
  /** Heat at the other end of the axle, or all over the vehicle, is taken for brakes beyond this many spreads. Assumption. */
  sharedHeatSpreads: number;
}

export const MODEL_NUMBERS: ModelNumbers = {
  noiseShareOfSpread: 0.84,
  levelShareOfSpread: 0.85,
  noiseFloorF: 3,
  noiseShareOfExcess: 0.07,
  underReadChance: 0.033,
  underReadMaxF: 85,
  doubtedUnderReadChance: 0.2,
  doubtedNoiseFactor: 1.8,
  overReadChance: 1.1e-6,
  overReadMaxF: 150,

  steadyShare: 0.017,
  steadyMeanF: 30,
  steadyWithTrain: 0.8,
  scannerNoiseF: 3.5,
  warmthError: 0.015,
  warmingShare: 0.9,
  steadySdF: 9,
  wanderingShare: 4.5e-5,
  wanderings: [
    [0.5, 12, 15],
    [0.35, 25, 25],
    [0.15, 45, 40],
  ],

  rollOverPerMile: 1e-5,
  rollOverPeakF: 98,
  rollOverUpMiles: 35,
  rollOverHalfMiles: 15,

  onsetPerMile: 1.8e-5,
  onsetBeforeFirstMiles: 100,
  onsetBeforeFirstWeight: 1.4,
  milesToLimitLow: 9.6,
  milesToLimitHigh: 150,
  milesToLimitFade: 0.35,
  shapes: [
    [0.4, 0.25, 1],
    [0, 0.25, 0.125],
    [0.15, 0.25, 0.5],
    [0.25, 0.15, 1.5],
    [0.2, 0.1, 2.5],
  ],
  shapeError: 0.25,
  futureError: 0.5,
  futureShare: 1.2,
  stallChance: 0.5,
  youngMiles: 20,
  bendShare: 1.35,
  bendFPerMile: 0.5,
  bendMiles: 52,
  cooledError: 0.5,

  limitSdF: 7,
  toldChances: [
    [0, 0.0008],
    [0.2, 0.16],
    [0.35, 0.35],
    [0.5, 0.52],
    [0.65, 0.54],
    [1, 0.58],
  ],

  wheelCoupling: 0.12,
  wheelOrdinaryF: 160,
  sharedHeatSpreads: 2,
};

/** FRA, Kesler and Tinto, 18 Dec 1989 [P], read as °F: fastest heating and cooling of degraded bearings in a test train. */
export const FASTEST_HEATING_F_PER_MINUTE = 12.8;
export const FASTEST_COOLING_F_PER_MINUTE = 7.2;

/** Readings of one bearing that an outlook looks at: the newest so many. At 15 miles a site, more than 350 miles. */
export const READINGS_MAX = 24;
