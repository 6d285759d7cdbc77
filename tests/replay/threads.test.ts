import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import fc from "fast-check";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { EVERYTHING, narrow } from "../../src/replay/narrow.ts";
import { Outputs } from "../../src/replay/outputs.ts";
import { inOrder, type Published } from "../../src/replay/published.ts";
import { replay } from "../../src/replay/replay.ts";
import { dealt } from "../../src/replay/shares.ts";
import { accounted, summaryOf } from "../../src/replay/summary.ts";
import { Threads } from "../../src/replay/threads.ts";
import { Random } from "../../src/simulate/random.ts";
import { announced, changedContents, railroadOf, withoutColdrill } from "../flow/changed-line.ts";
import { demoRailroad, demoRules, simulated } from "../flow/folded.ts";
import { cutFiner, cutInPieces, foldedBy, linesOf, type SharedFeed, spoilt } from "./shares.ts";

const DEMO = "replay-data/day.jsonl.zst";
/** A railroad in many corridors; one of its sites is there only when it has been announced. */
const WHOLE = railroadOf(changedContents(cutFiner));
const RAILROAD = railroadOf(
  changedContents((file) => {
    cutFiner(file);
    withoutColdrill(file);
  }),
);
const RULES = demoRules();
let folder = "";

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "bearing-rise-threads-"));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** An afternoon with whatever a sender can do wrong in it. */
function hostileFeed(seed: number, recorded: boolean, most = 100_000): SharedFeed {
  const random = new Random(seed, "hostile feed");
  const { feed } = simulated({ seed, hours: 5, world: "mixed", trainsPerDay: 60, group: random.chance(0.3) ? 1 : undefined }, WHOLE);
  const middle = Math.floor(feed.length / 2);
  const { atMs } = feed[middle]!;
  feed.splice(middle, 0, announced(changedContents(cutFiner, atMs), atMs));
  const bytes = spoilt(linesOf(feed, recorded), random);
  return { railroad: RAILROAD, rules: RULES, order: "assembled", pieces: cutInPieces(bytes, most, random) };
}

describe("corridors folded apart", { timeout: 300_000 }, () => {
  test("however they are dealt out, they publish the same and give the same account", () => {
    const ids = RAILROAD.corridors.map(({ id }) => id);
    let rejected = 0;
    let warnings = 0;
    let ofNewSite = 0;
    fc.assert(
      fc.property(
        fc.integer({ min: 1, max: 1_000_000 }),
        fc.array(fc.nat({ max: 2 }), { minLength: ids.length, maxLength: ids.length }),
        fc.boolean(),
        fc.constantFrom(EVERYTHING, narrow({ site: ["alder-14", "hollin-178"], from: "2026-03-02" }, new Set(RAILROAD.sites.keys()))),
        (seed, dealtTo, recorded, narrowed) => {
          const feed = { ...hostileFeed(seed, recorded), narrow: narrowed };
          const whole = foldedBy([ids], feed);
          const shares = [0, 1, 2].map((share) => ids.filter((_, at) => dealtTo[at] === share)).filter((share) => share.length > 0);
          expect(foldedBy(shares, feed)).toEqual(whole);
          expect(accounted(whole.day)).toBe(true);
          rejected += whole.day.records.outcomes.rejected;
          warnings += whole.day.warnings.length;
          ofNewSite += whole.day.trains.flatMap(({ points }) => points).filter(({ site }) => site === "coldrill-44").length;
        },
      ),
      { numRuns: 12, seed: 1 },
    );
    // Or it would prove nothing.
    expect(rejected).toBeGreaterThan(500);
    expect(warnings).toBeGreaterThan(5);
    expect(ofNewSite).toBeGreaterThan(5);
  });

  test("the sites are dealt out evenly, to no more threads than there are corridors, none without any", () => {
    const weight = (ids: readonly string[]) =>
      RAILROAD.corridors.reduce((sum, { id, sites, leadIn }) => sum + (ids.includes(id) ? sites.length + leadIn.length : 0), 0);
    for (const threads of [1, 2, 3, 100]) {
      const shares = dealt(RAILROAD, threads);
      expect(shares.flat().sort()).toEqual(RAILROAD.corridors.map(({ id }) => id).sort());
      expect(shares.length).toBe(Math.min(threads, RAILROAD.corridors.length));
      for (const share of shares) expect(weight(share)).toBeGreaterThan(0);
      expect(weight(shares[0]!)).toBe(Math.min(...shares.map(weight)));
      expect(Math.max(...shares.map(weight)) - weight(shares[0]!)).toBeLessThanOrEqual(
        Math.max(...RAILROAD.corridors.map(({ id }) => weight([id]))),
      );
    }
  });
});

describe("a day folded by threads", { timeout: 300_000 }, () => {
  async function foldedByThreads(feed: SharedFeed, threads: number) {
    const published: Published[] = [];
    const folding = new Threads({
      ...feed,
      narrow: feed.narrow ?? EVERYTHING,
      withFiles: true,
      threads,
      publish: (some) => published.push(...some),
    });
    try {
      for (const piece of feed.pieces) await folding.piece(0, piece, 0);
      await folding.feedEnd(0);
      const { account, records } = await folding.finish();
      account.addRead(records);
      return { published, day: account.close() };
    } finally {
      await folding.close();
    }
  }

  test("publishes byte for byte what one thread does, of a hostile feed too", async () => {
    for (const [seed, recorded] of [
      [1, false],
      [2, true],
    ] as const) {
      const feed = hostileFeed(seed, recorded);
      const alone = await foldedByThreads(feed, 1);
      expect(alone.published.length).toBeGreaterThan(50);
      for (const threads of [2, 3]) expect(await foldedByThreads(feed, threads)).toEqual(alone);
    }
  });

  test("writes the same files of the demonstration's day", async () => {
    const railroad = demoRailroad();
    const texts: string[][] = [];
    for (const threads of [1, 2]) {
      const out = join(folder, `demo-${threads}`);
      const outputs = new Outputs(out);
      const day = await replay({ railroad, rules: RULES, feeds: [DEMO], outputs, threads });
      outputs.finish();
      const files = ["passes", "warnings", "site-conditions", "rejected"].map((name) => readFileSync(join(out, `${name}.jsonl`), "utf8"));
      texts.push([JSON.stringify(summaryOf(day)), JSON.stringify(day), ...files]);
    }
    expect(texts[1]).toEqual(texts[0]);
    expect(texts[0]!.every((text) => text.length > 0)).toBe(true);
  });

  test("says where a feed broke off, with all that came before", async () => {
    const whole = readFileSync(DEMO);
    const broken = join(folder, "broken.zst");
    writeFileSync(broken, whole.subarray(0, Math.floor(whole.length / 2)));
    const run = (threads: number) => replay({ railroad: demoRailroad(), rules: RULES, feeds: [broken], threads });
    const [alone, together] = [await run(1), await run(2)];
    expect(together).toEqual(alone);
    expect(together.cutShort).toMatchObject({ code: "FEED-104 cut-short", line: expect.any(Number) });
    expect(together.cutShort!.line).toBeGreaterThan(1_000);
    expect(accounted(together)).toBe(true);
    await expect(replay({ railroad: RAILROAD, rules: RULES, feeds: [join(folder, "none")] })).rejects.toThrow("FEED-101");
  });

  test("a fault in a thread, or in writing, ends it with that fault", async () => {
    const feed = hostileFeed(3, false);
    // The thread that is given this wish cannot make anything of it.
    const wish = { ...EVERYTHING, asked: { site: ["nowhere-1"] } };
    await expect(foldedByThreads({ ...feed, narrow: wish }, 2)).rejects.toThrow("NARROW-003");
    const folding = new Threads({
      ...feed,
      narrow: EVERYTHING,
      withFiles: true,
      threads: 2,
      publish: () => {
        throw new Error("the disk is full");
      },
    });
    const fill = async () => {
      for (const piece of feed.pieces) await folding.piece(0, piece, 0);
      await folding.finish();
    };
    await expect(fill()).rejects.toThrow("the disk is full");
    await folding.close();
  });

  test("order is by line, then by corridor, then as it was published", () => {
    const at = (line: number, corridor: number, json: string): Published => ({ line, corridor, json, file: "passes", rejected: null });
    const merged = inOrder([
      [at(1, 2, "d"), at(1, 2, "e"), at(7, 2, "h")],
      [at(1, 0, "a"), at(1, 0, "b"), at(1, 1, "c"), at(5, 0, "f"), at(7, 0, "g")],
    ]);
    expect(merged.map(({ json }) => json).join("")).toBe("abcdefgh");
  });
});
