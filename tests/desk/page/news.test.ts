import { describe, expect, test } from "vitest";
import type { Row } from "../../../src/desk/board/row.ts";
import { WarningCase } from "../../../src/desk/board/warning-case.ts";
import { isHeard } from "../../../src/desk/page/announcer.ts";
import { loudestOf, News, spokenOf } from "../../../src/desk/page/news.ts";
import { BOOK } from "../railroad.ts";
import { START_MS, warning } from "../samples.ts";

/** What of a row's changes is told, and how. */

function rowOf(changes: Partial<Row> = {}): Row {
  return { ...new WarningCase(warning(), START_MS, BOOK).asRow(), ...changes };
}

function complete(...rows: Row[]): News {
  const news = new News();
  for (const row of rows) news.take(row);
  news.isComplete = true;
  return news;
}

const kindOf = (news: News, row: Row) => news.take(row)?.kind ?? null;

describe("what is news of a row", () => {
  test("a new one once, however often it comes", () => {
    const news = complete();
    expect(kindOf(news, rowOf())).toBe("New");
    expect(kindOf(news, rowOf())).toBeNull();
    expect(kindOf(news, rowOf({ version: 2 }))).toBeNull();
  });

  test("a level that rises or falls, a withdrawal, and one that asks again after it was acknowledged", () => {
    const news = complete(rowOf());
    expect(kindOf(news, rowOf({ version: 2, level: "limit" }))).toBe("Raised");
    expect(kindOf(news, rowOf({ version: 3, level: "warn" }))).toBe("Lowered");
    expect(kindOf(news, rowOf({ version: 4, state: "acknowledged" }))).toBeNull();
    expect(kindOf(news, rowOf({ version: 5, state: "unacknowledged" }))).toBe("Open again");
    expect(kindOf(news, rowOf({ version: 6, state: "withdrawn" }))).toBe("Withdrawn");
    expect(kindOf(news, rowOf({ version: 7, state: "withdrawn" }))).toBeNull();
  });

  test("an older word that comes late is none, and does not make the newer one news again", () => {
    const news = complete(rowOf({ version: 2, level: "limit" }));
    expect(kindOf(news, rowOf({ version: 1, level: "warn" }))).toBeNull();
    expect(kindOf(news, rowOf({ version: 2, level: "limit" }))).toBeNull();
  });

  test("while the rows are still being loaded, one that was there before is none, unless it is at the limit", () => {
    const news = new News();
    expect(kindOf(news, rowOf({ id: "W-1", version: 4 }))).toBeNull();
    expect(kindOf(news, rowOf({ id: "W-2", version: 1 }))).toBe("New");
    expect(kindOf(news, rowOf({ id: "W-3", version: 4, level: "limit" }))).toBe("New");
  });

  test("of one that is closed nothing is told", () => {
    expect(kindOf(complete(), rowOf({ state: "cleared" }))).toBeNull();
  });
});

describe("what is said", () => {
  const told = (id: string, level: Row["level"]) => ({ kind: "New" as const, row: rowOf({ id, level }) });

  test("each of a few by itself, a limit at once", () => {
    const spoken = spokenOf([told("W-1", "watch"), told("W-2", "limit")], () => "Coldrill");
    expect(spoken.map(({ urgent }) => urgent)).toEqual([false, true]);
    expect(spoken[1]!.words).toBe("New: limit, train Q118, car 47, axle 187, right side, at Coldrill.");
  });

  test("many at once as numbers, with how many are at the limit", () => {
    const many = [told("W-1", "watch"), told("W-2", "warn"), told("W-3", "limit"), told("W-4", "limit")];
    expect(spokenOf(many, () => "Coldrill")).toEqual([{ words: "4 warnings are new or changed, 2 of them at the limit.", urgent: true }]);
  });

  test("one tone for all, that of the highest level", () => {
    expect(loudestOf([told("W-1", "watch"), told("W-2", "limit"), told("W-3", "warn")])).toBe("limit");
    expect(loudestOf([{ kind: "Withdrawn", row: rowOf({ level: "limit" }) }])).toBeNull();
  });
});

test("a person mutes watch and warn, for a while or for good; a limit is heard whatever was chosen", () => {
  const nowMs = 1_000;
  for (const options of [
    { sound: "limit", silentUntil: 0 },
    { sound: "all", silentUntil: nowMs + 1 },
  ] as const) {
    expect(isHeard("watch", options, nowMs)).toBe(false);
    expect(isHeard("warn", options, nowMs)).toBe(false);
    expect(isHeard("limit", options, nowMs)).toBe(true);
  }
  expect(isHeard("watch", { sound: "all", silentUntil: nowMs }, nowMs)).toBe(true);
});
