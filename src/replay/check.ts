import { readFeed } from "../feed/feed-file.ts";
import { FeedUnreadable } from "../feed/feed-unreadable.ts";
import { loadLines } from "../line/lines.ts";
import { formatMistakes, type Mistake } from "../line/mistake.ts";
import type { Railroad } from "../line/railroad.ts";
import { readTextFile } from "../line/text-file.ts";
import { loadRules } from "../warning/rules.ts";
import { type Census, censusJson, censusText, countLine, emptyCensus } from "./census.ts";
import { EXIT } from "./exit-status.ts";
import { understoodLines } from "./understood-line.ts";
import { understoodRules } from "./understood-rules.ts";
import { countOf } from "./words.ts";

export interface Checked {
  /** No mistake in the line file or the rules, and the feed could be read to its end. Rejected records do not count, unless all are. */
  ok: boolean;
  /** For people. */
  text: string;
  /** For programs: mistakes, or what was understood. */
  json: { ok: boolean; mistakes: Mistake[]; notes: string[]; line: object | null; rules: object | null; feed: object | null };
  /** What a command that checks ends with; with --strict, `EXIT.rejected` in place of `done` where `rejectedRecords` is not 0. */
  status: number;
  rejectedRecords: number;
}

/**
 * Checks a line and rules (each a file or a folder of dated ones) and, where given, a feed: every mistake by line and column, or what was
 * understood. Nothing is folded and nothing is written. A file that cannot be read is a mistake too; nothing is thrown.
 */
export async function check(linePath: string, rulesPath: string, feedPath: string | null): Promise<Checked> {
  const line = loadLines(linePath);
  const rules = loadRules(rulesPath);
  const mistakes = [...line.mistakes, ...rules.mistakes];
  const feed = feedPath === null ? null : await censusOf(feedPath, line.book);
  const understood = {
    line: line.book === null ? null : understoodLines(line.book),
    rules: rules.rules === null ? null : understoodRules(rules.rules, line.book),
  };
  const notes = [...(understood.line?.notes ?? []), ...(understood.rules?.notes ?? [])];
  const parts = [
    { isWrong: line.book === null, text: section(`Line file ${linePath}`, understood.line?.text ?? mistakeText(line.mistakes)) },
    { isWrong: rules.rules === null, text: section(`Rules ${rulesPath}`, understood.rules?.text ?? mistakeText(rules.mistakes)) },
  ];
  if (notes.length > 0) parts.push({ isWrong: false, text: section("Worth a look", notes.map((note) => `- ${note}\n`).join("")) });
  if (feed !== null) {
    const text = section(`Feed ${feedPath === "-" ? "from standard input" : feedPath}`, feedText(feed));
    parts.push({ isWrong: isUseless(feed), text });
  }
  const filesOk = mistakes.length === 0;
  const ok = filesOk && !(feed !== null && isUseless(feed));
  const json = { ok, mistakes, notes, line: understood.line?.json ?? null, rules: understood.rules?.json ?? null, feed: feedJson(feed) };
  const status = !filesOk ? EXIT.lineOrRules : ok ? EXIT.done : EXIT.feed;
  // What is wrong stands last, above the verdict: on a terminal the end is what is seen.
  const text = [...parts.filter((part) => !part.isWrong), ...parts.filter((part) => part.isWrong)].map((part) => part.text).join("\n");
  const verdict = verdictOf(line.mistakes.length, rules.mistakes.length, feed);
  return { ok, text: `${text}\n${verdict}\n`, json, status, rejectedRecords: feed?.census.rejected ?? 0 };
}

function verdictOf(inLine: number, inRules: number, feed: FeedChecked | null): string {
  const wrong: string[] = [];
  if (inLine > 0) wrong.push(`${countOf(inLine, "mistake")} in the line file`);
  if (inRules > 0) wrong.push(`${countOf(inRules, "mistake")} in the rules`);
  if (feed?.unreadable != null) wrong.push("the feed could not be read to its end");
  else if (feed !== null && isUseless(feed))
    wrong.push(feed.census.records === 0 ? "the feed holds no record" : "no record of the feed can be used");
  if (wrong.length > 0) return `To be mended: ${wrong.join(", ")}.`;
  const rejected = feed?.census.rejected ?? 0;
  return rejected === 0 ? "Nothing is wrong." : `Usable; ${countOf(rejected, "record")} of the feed would be rejected.`;
}

interface FeedChecked {
  census: Census;
  unreadable: FeedUnreadable | null;
}

/** A feed that broke off, or of which not one record can be used: likely not the file that was meant. */
function isUseless({ census, unreadable }: FeedChecked): boolean {
  return unreadable !== null || census.accepted === 0;
}

/** Counts all that can be read; where the feed breaks off, that is said beside what was read before. */
async function censusOf(path: string, railroad: Railroad | null): Promise<FeedChecked> {
  const census = emptyCensus();
  try {
    for await (const batch of readFeed(path)) for (const line of batch) countLine(census, line, railroad);
  } catch (error) {
    if (error instanceof FeedUnreadable) return { census, unreadable: error };
    throw error;
  }
  return { census, unreadable: null };
}

function feedText({ census, unreadable }: FeedChecked): string {
  return unreadable === null ? censusText(census) : `${unreadable.message}\n${census.records === 0 ? "" : censusText(census)}`;
}

function feedJson(feed: FeedChecked | null): object | null {
  if (feed === null) return null;
  const { census, unreadable } = feed;
  const error =
    unreadable === null ? null : { code: unreadable.code, line: unreadable.line, byte: unreadable.byte, advice: unreadable.advice };
  return { ...censusJson(census), error };
}

/** Mistakes with the lines they are in; a folder of rules has them in several files. */
function mistakeText(mistakes: readonly Mistake[]): string {
  const files = [...new Set(mistakes.map((mistake) => mistake.file))];
  const blocks = files.map((file) => {
    const here = mistakes.filter((mistake) => mistake.file === file);
    return formatMistakes(here, readTextFile(file).text ?? undefined);
  });
  return `${countOf(mistakes.length, "mistake")}\n\n${blocks.join("\n")}`;
}

function section(title: string, body: string): string {
  return `${title}\n${"=".repeat(title.length)}\n${body}`;
}
