/** One reading of one bearing, ready to be followed. */
export interface BearingReading {
  /** Miles since the journey's first pass. */
  miles: number;
  timeMs: number;
  /** As the site measured it, °F above ambient. NaN when the bearing's axle was not seen or not measured there. */
  riseF: number;
  /** Over the same side of the train, bias out (Levels.excessF). */
  excessF: number;
  /** Spread of the rest of the train's side there: what an ordinary bearing scatters. */
  spreadF: number;
  /** Uncertainty of the bias taken out. */
  biasSdF: number;
  /** Excess of the bearing at the other end of the axle, and the median excess of the vehicle's other bearings; NaN if none. */
  mateExcessF: number;
  vehicleExcessF: number;
  /** The wheel beside it, °F above ambient; NaN without a wheel scanner. */
  wheelRiseF: number;
  /** Scanner or side doubted at this pass. */
  doubted: boolean;
  /** Median of the side after the bias was taken out: how warm the whole train had run by then. Absent: taken as riseF - excessF. */
  sideMedianF?: number;
  /** Share of that side's bearings which the scanner read far too low on this pass. Absent: unknown. */
  lowShare?: number;
}

/** The readings of a bearing over a journey, oldest first, one for every leg (also the legs that did not see it). */
export type BearingTrack = BearingReading[];

/** The place ahead that an outlook is asked for. */
export interface AheadSite {
  site: string;
  miles: number;
}

/** What a bearing's track says about where it is going. Chances are 0..1. */
export interface Outlook {
  /** Posterior of the competing hypotheses; they add up to 1. */
  healthy: number;
  steady: number;
  wandering: number;
  rising: number;
  /** Level now over the side of the train, and its standard deviation. */
  excessF: number;
  excessSdF: number;
  slopeFPerMile: number;
  slopeSdFPerMile: number;
  /** Chance that the true rise reaches the limit before the next site, and before the next but one. */
  chanceNext: number;
  chanceNextButOne: number;
  /**
   * The part of these chances that the bearing has by rising, not by being warm and near the limit anyway; `within`: before the third
   * place ahead that was asked for. Absent: the whole.
   */
  onItsWay?: { next: number; nextButOne: number; within: number };
  /** Miles from now to the limit: median and the 80 % interval, given that it rises; null when no rise is in sight. */
  crossing: { miles: number; low: number; high: number } | null;
  /** Faster than the fastest published heating (FRA, Kesler and Tinto 1989: 12.8 °F/min). */
  fasterThanPublished: boolean;
  /** How far each reading moved the outlook: same length as the track; "used", "low-outlier", "doubted", "missing". */
  used: ("used" | "low-outlier" | "doubted" | "missing")[];
}

/** What kind of heat one look at the axle and the vehicle says this is. */
export type HeatKind = "bearing" | "brakes" | "scanner" | "sun" | "none";
