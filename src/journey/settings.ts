/** What a railroad may set about joining passes. Scores are natural logarithms of odds. */
export interface JoinSettings {
  /** Sites a train may pass unheard and still be joined: hops - 1. */
  hops: number;
  /** Slowest mean speed while running, and the longest hold on the way; together the longest travel time. */
  slowestMph: number;
  holdHours: number;
  /** Share of the fastest running time that is still believed, and the minutes two site clocks may differ unnoticed. */
  fastestShare: number;
  clockMinutes: number;
  /** How far a clock may be off before a train is refused for being too fast; beyond `clockMinutes` the join is doubted. */
  clockSlackMinutes: number;
  /** Whether trains turn back (on a wye or by a run-around) between sites. */
  turnBack: boolean;
  /** Least log-odds of a join, and least lead over the runner-up. */
  leastScore: number;
  leastMargin: number;
  /** Open journeys held at most; beyond it the one unheard longest is dropped and counted. */
  mostOpen: number;
  /** Legs of one journey; a shuttle beyond it starts a new journey. */
  mostLegs: number;
}

/** Assumptions, all of them ours; every one can be set. */
export const usualJoinSettings: JoinSettings = {
  // Two dead sites in a row are seen now and then, three hardly ever.
  hops: 3,
  slowestMph: 8,
  // A crew's whole shift in a siding happens; beyond it the train has most likely been yarded.
  holdHours: 8,
  fastestShare: 0.92,
  clockMinutes: 2,
  clockSlackMinutes: 30,
  turnBack: true,
  // One wrong in 400 by the score alone; patterns of mixed trains give far more.
  leastScore: 6,
  // One wrong in 1,100 between two look-alikes; look-alikes are themselves a small share of all trains.
  leastMargin: 7,
  mostOpen: 4000,
  mostLegs: 400,
};
