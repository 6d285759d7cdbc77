import { type Edge, riseF as riseOf } from "../feed/edge.ts";
import type { Equipment } from "../feed/record.ts";
import type { DeviceAnswer, DeviceProof, DeviceVerdict, OpenTest, TestCheck } from "./functional-test.ts";
import type { SiteRules } from "./site-rules.ts";
import { isMessageOf, type TestDevice, testDevice } from "./test-devices.ts";

/** What a verdict needs besides the test. */
export interface Surroundings {
  edge: Edge;
  /** °F; NaN where not known. */
  ambientF: number;
  neighboursAmbientF: number;
  rules: SiteRules;
}

/** Two answers nearer than this are one movement of the tester. Assumption. */
const ONE_MOVEMENT_MS = 20_000;

/** How each expected device answered. Announcement and the simulated train's numbers are checks of their own. */
export function proofsOf(test: OpenTest, around: Surroundings): DeviceProof[] {
  return test.expects.flatMap((name) => {
    const device = testDevice(name, test.track);
    if (device.what === "axles" || device.what === "direction" || device.what === "announcement") return [];
    return [proofOf(test, name, device, around)];
  });
}

function proofOf(test: OpenTest, device: string, what: TestDevice, around: Surroundings): DeviceProof {
  if (what.what === "unknown") return proof(device, "missing", [], "The feed has no message for such a device.");
  if (what.what === "transducer") return transducerProof(test, device, what.number);
  const side = "side" in what ? what.side : null;
  const messages = test.reports.filter((report) => isMessageOf(what, report));
  const own = messages.filter((report) => side === null || report.side === side || report.side == null);
  const answers = [...own.map((report) => answerOf(report, what, around)), ...heatedIn(test, what, around)].sort((a, b) =>
    a.time < b.time ? -1 : 1,
  );
  const astray = side === null ? [] : messages.filter((report) => report.side != null && report.side !== side);
  const isWrongSide = answers.length === 0 && astray.length > 0 && !isOthersOwn(test, what, astray);
  if (isWrongSide) {
    const wrong = astray.map((report) => ({ ...answerOf(report, what, around), verdict: "wrong-side" as const }));
    return proof(device, "wrong-side", wrong, `It answered on the ${astray[0]!.side} side: left and right may be exchanged.`);
  }
  if (answers.length === 0) return proof(device, "missing", [], "It did not answer.");
  const last = answers.at(-1)!;
  return proof(device, last.verdict, answers, wordsOf(last, what, around) + orderWords(test, device, what));
}

function answerOf(report: Equipment, what: TestDevice, { edge, ambientF, rules }: Surroundings): DeviceAnswer {
  const hot = what.what === "bearing" || what.what === "wheel";
  const rise = hot && report.value != null ? riseOf(edge, report.value, ambientF) : null;
  const isAnnounced = what.what === "wheel" ? null : report.announced;
  let verdict: DeviceVerdict = isAnnounced === false ? "not-announced" : "answered";
  if (hot && (rise === null || Number.isNaN(rise) || rise < heatedF(what, rules))) verdict = "too-low";
  return { time: report.time, riseF: rise === null || Number.isNaN(rise) ? null : rise, announced: isAnnounced, verdict };
}

/** Scanners also answer with a simulated train's readings, without a message of their own. */
function heatedIn({ passes, reports }: OpenTest, what: TestDevice, { rules }: Surroundings): DeviceAnswer[] {
  if (what.what !== "bearing" && what.what !== "wheel") return [];
  if (reports.some((report) => isMessageOf(what, report) && report.side === what.side)) return [];
  const rail = what.side === "left" ? 0 : 1;
  return passes.flatMap(({ begunMs, hottestF, hottestWheelF }) => {
    const riseF = (what.what === "bearing" ? hottestF : hottestWheelF)[rail];
    if (riseF === null || riseF < heatedF(what, rules) / 2) return [];
    return [
      {
        time: new Date(begunMs).toISOString(),
        riseF,
        announced: null,
        verdict: riseF < heatedF(what, rules) ? "too-low" : "answered",
      } as DeviceAnswer,
    ];
  });
}

function heatedF(what: TestDevice, { tests }: SiteRules): number {
  return what.what === "wheel" ? tests.wheelRiseF : tests.bearingRiseF;
}

/** The other side answered for itself: it was expected, and answered once. */
function isOthersOwn(test: OpenTest, what: TestDevice, astray: readonly Equipment[]): boolean {
  const isExpected = test.expects.some((name) => {
    const other = testDevice(name, test.track);
    return other.what === what.what && "side" in other && "side" in what && other.side !== null && other.side !== what.side;
  });
  const times = astray.map((report) => Date.parse(report.time));
  return isExpected && Math.max(...times) - Math.min(...times) < ONE_MOVEMENT_MS;
}

/** Both sides answered, but not in the order listed: a tester who kept to the list has exchanged sides before him. */
function orderWords(test: OpenTest, device: string, what: TestDevice): string {
  if (!("side" in what) || what.side === null) return "";
  const first = (side: "left" | "right") => test.reports.find((report) => isMessageOf(what, report) && report.side === side);
  const own = first(what.side);
  const otherSide = what.side === "left" ? "right" : "left";
  const other = first(otherSide);
  const listedBefore = test.expects.findIndex((name) => {
    const one = testDevice(name, test.track);
    return one.what === what.what && "side" in one && one.side === otherSide;
  });
  if (own === undefined || other === undefined || listedBefore < 0) return "";
  const isListedFirst = test.expects.indexOf(device) < listedBefore;
  if (isListedFirst === Date.parse(own.time) <= Date.parse(other.time)) return "";
  return " The sides answered in another order than listed: if the list was kept to, left and right are exchanged.";
}

function transducerProof(test: OpenTest, device: string, number: 1 | 2): DeviceProof {
  const messages = test.reports.filter((report) => report.kind === "integrity");
  const counted = test.passes.find((pass) => pass.axles > 0);
  const both = test.passes.find((pass) => pass.axles > 0 && pass.hasSpeed);
  const told = messages.map(
    (report): DeviceAnswer => ({ time: report.time, riseF: null, announced: report.announced, verdict: "answered" }),
  );
  if (both !== undefined) {
    const answer: DeviceAnswer = { time: new Date(both.begunMs).toISOString(), riseF: null, announced: null, verdict: "answered" };
    return proof(
      device,
      "answered",
      [answer],
      `A simulated train of ${both.axles} axles was counted with its speed, which takes both transducers.`,
    );
  }
  if (counted !== undefined) {
    // The transducer reached first counts, the other one gives the speed (assumption, see miscount.ts).
    const first = counted.direction === "rising" ? 1 : 2;
    const answer: DeviceAnswer = { time: new Date(counted.begunMs).toISOString(), riseF: null, announced: null, verdict: "answered" };
    if (number === first) return proof(device, "answered", [answer], `It counted ${counted.axles} axles; no speed came with them.`);
    return proof(device, "missing", [], "Axles were counted without a speed: the transducer reached second did not answer.");
  }
  if (told.length > 0) return proof(device, "answered", told, "The site told of its transducers; which of the two is not told.");
  return proof(device, "missing", [], "No simulated train was counted, and no message came.");
}

function wordsOf(answer: DeviceAnswer, what: TestDevice, { rules }: Surroundings): string {
  const rise = answer.riseF === null ? "" : ` with ${answer.riseF.toFixed(0)} °F above ambient`;
  switch (answer.verdict) {
    case "too-low":
      return `It answered${rise}; ${heatedF(what, rules)} °F or more is wanted.`;
    case "not-announced":
      return `It answered${rise}; the crew was not told.`;
    default:
      return `It answered${rise}${answer.announced === true ? ", and the crew was told" : ""}.`;
  }
}

function proof(device: string, verdict: DeviceVerdict, answers: readonly DeviceAnswer[], words: string): DeviceProof {
  return { device, verdict, asFound: answers[0] ?? null, asLeft: answers.at(-1) ?? null, answers: answers.length, words };
}

/** What is checked over the devices: the simulated train's count and direction, the ambient, the announcement. */
export function checksOf(test: OpenTest, around: Surroundings): TestCheck[] {
  return [countCheck(test), directionCheck(test), ambientCheck(around), announcementCheck(test)];
}

function countCheck(test: OpenTest): TestCheck {
  const check = "axle-count";
  const wanted = test.expects.map((name) => testDevice(name, test.track)).find((device) => device.what === "axles");
  const last = test.passes.at(-1);
  if (last === undefined) {
    if (wanted === undefined) return { check, verdict: "not-checked", words: "No simulated train came." };
    return { check, verdict: "wrong", words: "A simulated train was expected; none came." };
  }
  const counted = `${last.axles} axles came, the site counted ${last.axlesSaid ?? "nothing"}`;
  const isWhole = last.axlesSaid === last.axles;
  if (wanted?.what === "axles" && wanted.count !== null) {
    const isRight = isWhole && last.axles === wanted.count;
    return { check, verdict: isRight ? "right" : "wrong", words: `${counted}; ${wanted.count} were simulated.` };
  }
  return { check, verdict: isWhole ? "right" : "wrong", words: `${counted}; how many were simulated was not said (axles-<count>).` };
}

function directionCheck(test: OpenTest): TestCheck {
  const check = "direction";
  const wanted = test.expects.map((name) => testDevice(name, test.track)).find((device) => device.what === "direction");
  const last = test.passes.at(-1);
  if (wanted?.what !== "direction") {
    const seen = last === undefined ? "no simulated train came" : `the simulated train was reported as ${last.direction}`;
    return {
      check,
      verdict: "not-checked",
      words: `Which way it was to run was not said (direction-rising or direction-falling); ${seen}.`,
    };
  }
  if (last === undefined) return { check, verdict: "wrong", words: "A simulated train was expected; none came." };
  const isRight = last.direction === wanted.direction;
  const words = `It was simulated ${wanted.direction}, and reported ${last.direction}.`;
  return {
    check,
    verdict: isRight ? "right" : "wrong",
    words: isRight ? words : `${words} The wheel transducers may be connected the wrong way round.`,
  };
}

function ambientCheck({ ambientF, neighboursAmbientF, rules }: Surroundings): TestCheck {
  const check = "ambient";
  if (Number.isNaN(ambientF)) return { check, verdict: "not-checked", words: "The site sent no ambient temperature." };
  if (Number.isNaN(neighboursAmbientF))
    return { check, verdict: "not-checked", words: `The site reads ${ambientF.toFixed(0)} °F; no neighbour sent one lately.` };
  const off = ambientF - neighboursAmbientF;
  const words = `The site reads ${ambientF.toFixed(0)} °F, its neighbours ${neighboursAmbientF.toFixed(0)} °F; at most ${rules.tests.ambientF} °F apart is right.`;
  return { check, verdict: Math.abs(off) <= rules.tests.ambientF ? "right" : "wrong", words };
}

function announcementCheck(test: OpenTest): TestCheck {
  const check = "announcement";
  const alarms = test.reports.filter(({ kind }) => kind !== "hot-wheel" && kind !== "integrity");
  const untold = alarms.filter(({ announced }) => !announced);
  if (alarms.length === 0) {
    const isExpected = test.expects.includes("announcement");
    return { check, verdict: isExpected ? "wrong" : "not-checked", words: "No alarm came that the crew would have been told of." };
  }
  const words = `${alarms.length - untold.length} of ${alarms.length} alarms were announced to the crew.`;
  return { check, verdict: untold.length === 0 ? "right" : "wrong", words };
}
