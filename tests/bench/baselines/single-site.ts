import { type Baseline, newest } from "./baseline.ts";

/** Rules that look at one pass alone. */
export const fixedLimit: Baseline = {
  name: "fixed limit",
  source: "class I commitment of 8 March 2023, over 170 °F above ambient [S]; one railroad's table, Feb 2023: over 200 °F critical [S]",
  unit: "°F above ambient",
  usual: [170, 200],
  score: ({ track }) => newest(track)?.riseF ?? -Infinity,
};

export const sameAxleDifference: Baseline = {
  name: "same-axle difference",
  source: "usual setting 95 °F (scholarworks.utrgv.edu/me_fac/185 [P]); one railroad's table 115 °F, Feb 2023 [S]",
  unit: "°F over the other end of the axle",
  usual: [95, 115],
  score: ({ track, mate }) => {
    const difference = (newest(track)?.riseF ?? Number.NaN) - (newest(mate)?.riseF ?? Number.NaN);
    return Number.isNaN(difference) ? -Infinity : difference;
  },
};

export const kValue: Baseline = {
  name: "K-value",
  source: "(reading - mean of the side) / sd of the side, from memory [M]; removal as an outlier of the train: ASME JRC2009 abstract [P]",
  unit: "standard deviations",
  usual: [],
  score: ({ track, side }) => {
    const reading = newest(track);
    const figures = side[track.length - 1];
    if (reading === null || figures === undefined || !(figures.sdF > 0)) return -Infinity;
    return (reading.riseF - figures.meanF) / figures.sdF;
  },
};
