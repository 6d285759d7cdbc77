import { describe, expect, test } from "vitest";
import { WarningCase } from "../../../src/desk/board/warning-case.ts";
import { limitWords } from "../../../src/desk/page/limit-words.ts";
import type { Warning } from "../../../src/warning/warning.ts";
import { BOOK } from "../railroad.ts";
import { MINUTE_MS, START_MS, warning } from "../samples.ts";

const DIFFERENCE = { overF: 120.94, limitF: 115 };

/** The row after so many versions, each a quarter of an hour after the one before. */
function rowAfter(...versions: Partial<Warning>[]) {
  const all = versions.map((over, i) =>
    warning({ version: i + 1, time: new Date(START_MS + i * 15 * MINUTE_MS).toISOString(), level: "limit", riseF: 145.4, ...over }),
  );
  const made = new WarningCase(all[0]!, START_MS, BOOK);
  for (const one of all.slice(1)) made.say(one, START_MS);
  return made.asRow();
}

describe("the limit beside a rise", () => {
  test("is the one that was reached: between the ends of the axle, with both numbers", () => {
    const row = rowAfter({ axleDifference: DIFFERENCE });
    expect(limitWords(row, "F")).toBe("120.9 °F over the other end of its axle, limit 115 °F");
    expect(limitWords(row, "C")).toBe("67.1 °C over the other end of its axle, limit 63 °C");
  });

  test("stays the one that was reached while it reads lower, and is the bearing's own once that is reached too", () => {
    expect(rowAfter({ level: "warn" }, { axleDifference: DIFFERENCE }, { riseF: 90 }).axleDifference).toEqual(DIFFERENCE);
    const higher = rowAfter({ axleDifference: DIFFERENCE }, { riseF: 171 });
    expect(limitWords(higher, "F")).toBe("limit 170 °F");
  });

  test("is the bearing's own where no other was reached", () => {
    expect(limitWords(rowAfter({ riseF: 181 }, { riseF: 150 }), "F")).toBe("limit 170 °F");
    expect(limitWords(rowAfter({ level: "warn" }), "F")).toBe("limit 170 °F");
  });
});
