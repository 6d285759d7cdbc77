import type { Equipment } from "../feed/record.ts";
import type { Direction } from "../line/railroad.ts";
import type { ByRail } from "../pass/pass.ts";

/** How one device answered. `too-low`: it was not heated above the set rise; `not-announced`: its message came, the crew's did not. */
export type DeviceVerdict = "answered" | "missing" | "wrong-side" | "too-low" | "not-announced";

export interface DeviceAnswer {
  time: string;
  /** °F above ambient, null where the device has no reading. */
  riseF: number | null;
  announced: boolean | null;
  verdict: DeviceVerdict;
}

export interface DeviceProof {
  device: string;
  verdict: DeviceVerdict;
  /** Its first answer and its last: as the tester found it and left it. null: no answer. */
  asFound: DeviceAnswer | null;
  asLeft: DeviceAnswer | null;
  answers: number;
  words: string;
}

export interface TestCheck {
  check: "axle-count" | "direction" | "ambient" | "announcement";
  verdict: "right" | "wrong" | "not-checked";
  words: string;
}

/** The record of a functional test: what was expected, what came, how the site was found and left. */
export interface FunctionalTestRecord {
  type: "functional-test-record";
  /** `T-<site>-<track>-<begun, compact UTC>`: the same whoever folds the feed. */
  id: string;
  version: 1;
  /** Event time at which it was closed. */
  time: string;
  site: string;
  track: string;
  tester: string;
  begunAt: string;
  endedAt: string | null;
  closed: "ended" | "left-open" | "begun-again";
  /** Passed: ended, every device answered as it should, nothing was wrong. */
  result: "passed" | "failed";
  devices: DeviceProof[];
  checks: TestCheck[];
  /** Passes of real trains that went through while the test was open: they belong to it in nothing. */
  trains: string[];
  /** What was open about the site when the test began and when it was closed. */
  conditionsAsFound: string[];
  conditionsAsLeft: string[];
  words: string;
  /** Rule set whose numbers were held against. */
  rules: string;
  caution: string;
}

/** What a test needs to know of a pass that belongs to it. */
export interface TestPass {
  id: string;
  begunMs: number;
  axles: number;
  axlesSaid: number | null;
  direction: Direction;
  hottestF: ByRail<number | null>;
  hottestWheelF: ByRail<number | null>;
  hasSpeed: boolean;
}

/** A test that is open, or has ended and waits a little for what is still on its way. Plain data. */
export interface OpenTest {
  site: string;
  track: string;
  tester: string;
  begunMs: number;
  endedMs: number | null;
  expects: string[];
  reports: Equipment[];
  passes: TestPass[];
  trains: string[];
  conditionsAsFound: string[];
}

/** A test over whose time is still asked for: passes may come late. */
export interface TestTime {
  site: string;
  track: string;
  fromMs: number;
  toMs: number;
}

export const TEST_CAUTION =
  "What the feed shows of the test, no more: local instructions and qualified people decide whether the site is right.";
