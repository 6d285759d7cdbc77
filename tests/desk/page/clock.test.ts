import { describe, expect, test } from "vitest";
import { bothWords, dayWords, fullWords, utcWords, whenWords } from "../../../src/desk/page/clock.ts";

const ZONE = "America/Chicago";
/** Half past six in the evening at the railroad: in UTC the next day has begun. */
const EVENING_MS = Date.parse("2026-03-05T00:30:00Z");

describe("the page's clocks", () => {
  test("name the day of each zone beside its time, also when UTC is a day ahead", () => {
    expect(dayWords(EVENING_MS, ZONE)).toBe("2026-03-04");
    expect(utcWords(EVENING_MS)).toBe("00:30 UTC, 2026-03-05");
  });

  test("a full time says the day of UTC where it is another one", () => {
    expect(fullWords(EVENING_MS, ZONE)).toBe("2026-03-04 18:30 (2026-03-05 00:30 UTC)");
    expect(fullWords(Date.parse("2026-03-04T13:44:00Z"), ZONE)).toBe("2026-03-04 07:44 (13:44 UTC)");
  });

  test("a time of another day says which", () => {
    const now = Date.parse("2026-03-04T13:44:00Z");
    expect(whenWords(now - 3_600_000, now, ZONE)).toBe("06:44");
    expect(whenWords(now - 24 * 3_600_000, now, ZONE)).toBe("03-03 07:44");
    expect(bothWords(now, ZONE)).toBe("07:44 (13:44 UTC)");
  });
});
