import { type DeviceVerdict, type FunctionalTestRecord, type OpenTest, TEST_CAUTION } from "./functional-test.ts";
import type { SiteWords } from "./site-words.ts";
import { checksOf, proofsOf, type Surroundings } from "./test-verdict.ts";

const VERDICT_WORDS: Readonly<Record<DeviceVerdict, string>> = {
  answered: "answered",
  missing: "did not answer",
  "wrong-side": "answered on the wrong side",
  "too-low": "was not heated enough",
  "not-announced": "was not announced to the crew",
};

/** The record of a test closed at `atMs`: how each device answered, held against what was around it. */
export function recordOf(
  test: OpenTest,
  atMs: number,
  closed: FunctionalTestRecord["closed"],
  around: Surroundings,
  conditionsAsLeft: string[],
  rules: string,
  said: SiteWords,
): FunctionalTestRecord {
  const devices = proofsOf(test, around);
  const checks = checksOf(test, around);
  const failed = [
    ...devices
      .filter((one) => one.verdict !== "answered")
      .map((one) => `${said.device(test.site, one.device)} ${VERDICT_WORDS[one.verdict]}`),
    ...checks.filter((one) => one.verdict === "wrong").map((one) => `${one.check.replaceAll("-", " ")} wrong`),
  ];
  const passed = closed === "ended" && failed.length === 0;
  const begunAt = new Date(test.begunMs).toISOString();
  return {
    type: "functional-test-record",
    id: `T-${test.site}-${test.track}-${begunAt.replace(/[-:.]/g, "")}`,
    version: 1,
    time: new Date(atMs).toISOString(),
    site: test.site,
    track: test.track,
    tester: test.tester,
    begunAt,
    endedAt: test.endedMs === null ? null : new Date(test.endedMs).toISOString(),
    closed,
    result: passed ? "passed" : "failed",
    devices,
    checks,
    trains: [...test.trains],
    conditionsAsFound: test.conditionsAsFound,
    conditionsAsLeft,
    words: wordsOf(test, closed, failed, said),
    rules,
    caution: TEST_CAUTION,
  };
}

function wordsOf(test: OpenTest, closed: FunctionalTestRecord["closed"], failed: readonly string[], said: SiteWords): string {
  const what = `Functional test of ${said.track(test.site, test.track)}`;
  const through =
    test.trains.length === 0
      ? ""
      : ` ${test.trains.length === 1 ? "A train" : `${test.trains.length} trains`} went through meanwhile; nothing of it counts as an answer.`;
  const found = failed.length === 0 ? "every expected device answered" : failed.join(", ");
  if (closed === "left-open") return `${what}: never ended. So far: ${found}.${through}`;
  if (closed === "begun-again") return `${what}: another one was begun before it ended. So far: ${found}.${through}`;
  return `${what}: ${failed.length === 0 ? "passed" : "failed"}, ${found}.${through}`;
}
