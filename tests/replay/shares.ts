import type { Railroad } from "../../src/line/railroad.ts";
import { EVERYTHING, type Narrow } from "../../src/replay/narrow.ts";
import { inOrder, type Published } from "../../src/replay/published.ts";
import { type ReplayOrder, ShareFold } from "../../src/replay/share-fold.ts";
import { lineOf } from "../../src/simulate/feed-text.ts";
import type { Random } from "../../src/simulate/random.ts";
import type { RuleBook } from "../../src/warning/rule-book.ts";
import type { LineContents } from "../flow/changed-line.ts";
import type { Arrival } from "../flow/folded.ts";

/** The demonstration's railroad in five corridors instead of two. */
export function cutFiner(file: LineContents): void {
  const corridor = (id: string, sites: string[], leadIn: string[]) => ({ ...file.corridors[0]!, id, sites, leadIn });
  file.corridors = [
    corridor("lower-alder", ["alder-14", "brock-27", "coldrill-44"], ["dunmere-53"]),
    corridor("sable", ["dunmere-53", "sable-11", "tawny-33"], ["brock-27", "coldrill-44", "elmrigg-72"]),
    corridor("upper-alder", ["elmrigg-72", "fennick-131", "garrow-160", "hollin-178"], ["dunmere-53", "kestrel-212"]),
    corridor("near-kestrel", ["kestrel-212", "lorne-196", "marrow-158", "nettle-143"], ["hollin-178", "orrin-128"]),
    corridor("far-kestrel", ["orrin-128", "pellow-105", "quarrin-91", "rushy-77"], ["nettle-143"]),
  ];
}

/** Lines of a feed, as text; with `recorded`, as a log kept them. */
export function linesOf(feed: readonly Arrival[], recorded: boolean): string[] {
  return feed.map((arrival, at) => {
    const line = lineOf(arrival as Parameters<typeof lineOf>[0]);
    return recorded ? `${line.slice(0, -1)},"partition":${at % 3},"offset":${at},"arrivedMs":${arrival.atMs + 1500}}` : line;
  });
}

/** What no sender should write, between the lines: each kind of it somewhere. */
export function spoilt(lines: readonly string[], random: Random): Buffer {
  const out: Buffer[] = [];
  for (const line of lines) {
    out.push(Buffer.from(line), LINE_BREAK);
    if (!random.chance(0.02)) continue;
    for (const bytes of oddLines(line, lines[random.whole(0, lines.length - 1)]!, random)) out.push(bytes, LINE_BREAK);
  }
  return Buffer.concat(out);
}

const LINE_BREAK = Buffer.from("\n");

function oddLines(line: string, other: string, random: Random): Buffer[] {
  const kinds: (() => Buffer)[] = [
    // Cut short, repeated, with a site that nobody knows, under the key of another site, with a track that is not there.
    () => Buffer.from(line.slice(0, random.whole(1, line.length - 1))),
    () => Buffer.from(line),
    () => Buffer.from(line.replaceAll(/"site":"[^"]*"/g, '"site":"nowhere-1"')),
    () => Buffer.from(line.replace(/"key":"[^"]*"/, /"key":"[^"]*"/.exec(other)?.[0] ?? "")),
    () => Buffer.from(line.replace(/"track":"[^"]*"/, '"track":"9"')),
    // Its topic, key and value said twice: JSON takes the last.
    () => Buffer.from(`${line.slice(0, -1)},${other.slice(1)}`),
    // Bytes that are no text, a value out of bounds, blanks, an unknown field, a topic that is none.
    () => Buffer.concat([Buffer.from(line.slice(0, -4)), Buffer.from([0xff, 0xfe]), Buffer.from(line.slice(-4))]),
    () => Buffer.from(line.replace(/"bearing":\[[^,\]]*/, '"bearing":[99999')),
    () => Buffer.from(random.chance(0.5) ? "" : "\r"),
    () => Buffer.from(line.replace('"value":{', '"value":{"unheard":1,')),
    () => Buffer.from(line.replace('"topic":"axle-readings"', '"topic":"elsewhere"')),
    () => Buffer.from(`${line.slice(0, 200)}${" ".repeat(600_000)}`),
  ];
  return [kinds[random.whole(0, kinds.length - 1)]!()];
}

/** A feed through shares of a railroad, one after the other in this thread: what they publish together, and the day. */
export function foldedBy(shares: readonly (readonly string[])[], { railroad, rules, order, narrow = EVERYTHING, pieces }: SharedFeed) {
  const folds = shares.map(
    (corridors, at) => new ShareFold({ railroad, rules, narrow, order, corridors, isFirst: at === 0, withFiles: true }),
  );
  const [first, ...others] = folds as [ShareFold, ...ShareFold[]];
  const published: Published[] = [];
  const step = (turn: (fold: ShareFold) => Published[]) => published.push(...inOrder(folds.map(turn)));
  for (const piece of pieces) step((fold) => fold.piece(0, piece));
  step((fold) => fold.feedEnd(0));
  step((fold) => fold.finish());
  for (const { rejected } of published) if (rejected !== null) first.account.addRejected(rejected);
  for (const other of others) first.account.add(structuredClone(other.account.part()));
  first.account.addRead(first.records);
  const files = Map.groupBy(published, ({ file }) => file);
  return { files: [...files].map(([file, all]) => [file, all.map(({ json }) => json)]).sort(), day: first.account.close() };
}

export interface SharedFeed {
  railroad: Railroad;
  rules: RuleBook;
  order: ReplayOrder;
  narrow?: Narrow;
  pieces: readonly Buffer[];
}

export function cutInPieces(bytes: Buffer, most: number, random: Random): Buffer[] {
  const pieces: Buffer[] = [];
  for (let from = 0; from < bytes.length; from += pieces.at(-1)!.length) pieces.push(bytes.subarray(from, from + random.whole(1, most)));
  return pieces;
}
