import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { stringify } from "yaml";
import { LineBook, MOST_LINES } from "../../src/line/line-book.ts";
import { loadLines } from "../../src/line/lines.ts";
import { partsOf, railroadOf as railroadOfParts } from "../../src/line/railroad-of.ts";
import { check } from "../../src/replay/check.ts";
import { changedContents, type LineContents, railroadOf, withoutColdrill } from "../flow/changed-line.ts";

const FROM_MS = Date.parse("2026-06-01T05:00:00.000Z");
const longer = (file: LineContents) => {
  file.links[0]!.miles = 13;
};
const renamed = (corridor: number) => (file: LineContents) => {
  file.corridors[corridor]!.id = "other";
};
const always = railroadOf(changedContents(() => {}));
const without = railroadOf(changedContents(withoutColdrill, FROM_MS));
const again = railroadOf(changedContents(longer, 2 * FROM_MS));
let folder: string;

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "rise-lines-"));
  writeFileSync(join(folder, "line-1.yaml"), readFileSync("replay-data/line.yaml"));
});

afterEach(() => rmSync(folder, { recursive: true, force: true }));

function write(name: string, contents: LineContents): void {
  writeFileSync(join(folder, name), stringify(contents));
}

const codes = () => loadLines(folder).mistakes.map(({ code, file, line }) => [code, file.slice(folder.length + 1), line]);

describe("dated line files", () => {
  it("of a folder are the states of one railroad, whatever their names, and other files are left alone", async () => {
    write("a-later.yml", changedContents(withoutColdrill, FROM_MS));
    writeFileSync(join(folder, "notes.txt"), "no line file");
    mkdirSync(join(folder, "old.yaml.d"));
    const { book, dated, mistakes } = loadLines(folder);
    expect(mistakes).toEqual([]);
    expect(book!.states.map(({ fromMs }) => fromMs)).toEqual([Number.NEGATIVE_INFINITY, FROM_MS]);
    expect(dated.map(({ railroad }) => railroad)).toEqual(book!.states);
    const { text, json, ok } = await check(folder, "replay-data/rules/standard", null);
    expect(ok).toBe(true);
    expect(text).toMatch(
      /In force from the beginning\n.*18 sites, 17 links.*In force from 2026-06-01T05:00:00.000Z\n.*17 sites, 16 links/s,
    );
    expect((json.line as { states: { from: string }[] }).states.map(({ from }) => from)).toEqual([null, "2026-06-01T05:00:00.000Z"]);
  });

  it("that claim one date, or that cannot follow one another, are mistakes with their place", () => {
    write(
      "line-2.yaml",
      changedContents(() => {}),
    );
    expect(codes()).toEqual([["same-line-date", "line-2.yaml", 1]]);
    write("line-2.yaml", changedContents(renamed(0), FROM_MS));
    expect(codes().map(([code]) => code)).toEqual(expect.arrayContaining(["line-cannot-follow"]));
    expect(loadLines(folder).mistakes[0]!.says).toMatch(/^corridor alder is gone \(.*line-1.yaml\)$/);
    expect(loadLines(folder).book).toBeNull();
  });

  it("of an empty folder are missed, and too many are refused", () => {
    const empty = join(folder, "empty");
    mkdirSync(empty);
    expect(loadLines(empty).mistakes.map(({ code }) => code)).toEqual(["no-line-file"]);
    for (let i = 0; i <= MOST_LINES; i++) writeFileSync(join(empty, `${i}.yaml`), "");
    expect(loadLines(empty).mistakes.map(({ code }) => code)).toEqual(["too-many-line-files"]);
  });
});

describe("a railroad with several states", () => {
  it("answers by time, before the first state with the first", () => {
    const book = new LineBook([again, without]);
    expect([book.at(0), book.at(FROM_MS), book.at(2 * FROM_MS - 1), book.at(2 * FROM_MS)]).toEqual([without, without, without, again]);
  });

  it("answers for a site that is not there at that time with the nearest state that has it, the earlier one first", () => {
    const book = new LineBook([always, without, again]);
    expect(book.of("coldrill-44", FROM_MS + 1)).toBe(always);
    expect(book.of("brock-27", FROM_MS + 1)).toBe(without);
    expect(new LineBook([without, again]).of("coldrill-44", FROM_MS + 1)).toBe(again);
    expect(book.of("nowhere", FROM_MS + 1)).toBe(without);
  });

  it("shows every site it ever had, and the links of the time that it was turned to", () => {
    const book = new LineBook([without, again]);
    expect([book.sites.has("coldrill-44"), book.links.length]).toEqual([true, 16]);
    expect(book.corridorsOf("coldrill-44")).toEqual(again.corridorsOf("coldrill-44"));
    expect([book.turn(2 * FROM_MS), book.turn(2 * FROM_MS + 1), book.turn(0)]).toEqual([true, false, false]);
    expect([book.now, book.links.length, book.corridors.flatMap(({ sites }) => sites).length]).toEqual([again, 17, 18]);
  });

  it("takes in what can follow, once, and says why it does not take the rest", () => {
    const book = new LineBook([always]);
    expect(book.take(without)).toBe("taken");
    expect(book.take(without)).toBe("known");
    const gone = railroadOf(changedContents(renamed(1), 3 * FROM_MS));
    expect(book.take(gone)).toEqual({ refused: expect.stringMatching(/corridor \S+ is gone; corridor other is new/) });
    expect(book.states).toEqual([always, without]);
  });

  it("is handed to another thread with all its states", () => {
    const copied = railroadOfParts(structuredClone(partsOf(new LineBook([always, without])))) as LineBook;
    expect(copied.states.map(({ fromMs }) => fromMs)).toEqual([Number.NEGATIVE_INFINITY, FROM_MS]);
    expect(copied.at(FROM_MS).ahead("brock-27", "1", "rising", 1)).toEqual(without.ahead("brock-27", "1", "rising", 1));
  });
});
