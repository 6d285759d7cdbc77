/** A scanner's learned bias, published as a record and read back as an input: the fold never needs more than a few hours of log. */
export interface Calibration {
  type: "calibration";
  /** `<site>/<track>/<rail>@<effective from>`. */
  id: string;
  version: 1;
  /** Event time of the last pass it was learned from. */
  time: string;
  site: string;
  track: string;
  rail: "left" | "right";
  /** To be subtracted from readings. */
  biasF: number;
  sdF: number;
  trains: number;
  effectiveFromMs: number;
}
