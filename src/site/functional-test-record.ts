import { type FunctionalTestRecord, type OpenTest, TEST_CAUTION } from "./functional-test.ts";
import { checksOf, proofsOf, type Surroundings } from "./test-verdict.ts";

/** The record of a test closed at `atMs`: how each device answered, held against what was around it. */
export function recordOf(
  test: OpenTest,
  atMs: number,
  closed: FunctionalTestRecord["closed"],
  around: Surroundings,
  conditionsAsLeft: string[],
  rules: string,
): FunctionalTestRecord {
  const devices = proofsOf(test, around);
  const checks = checksOf(test, around);
  const failed = [
    ...devices.filter((one) => one.verdict !== "answered").map((one) => `${one.device} ${one.verdict}`),
    ...checks.filter((one) => one.verdict === "wrong").map((one) => `${one.check} wrong`),
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
    words: wordsOf(test, closed, failed),
    rules,
    caution: TEST_CAUTION,
  };
}

function wordsOf(test: OpenTest, closed: FunctionalTestRecord["closed"], failed: readonly string[]): string {
  const what = `Functional test of ${test.site} track ${test.track}`;
  const through =
    test.trains.length === 0
      ? ""
      : ` ${test.trains.length === 1 ? "A train" : `${test.trains.length} trains`} went through meanwhile; nothing of it counts as an answer.`;
  const found = failed.length === 0 ? "every expected device answered" : failed.join(", ");
  if (closed === "left-open") return `${what}: never ended. So far: ${found}.${through}`;
  if (closed === "begun-again") return `${what}: another one was begun before it ended. So far: ${found}.${through}`;
  return `${what}: ${failed.length === 0 ? "passed" : "failed"}, ${found}.${through}`;
}
