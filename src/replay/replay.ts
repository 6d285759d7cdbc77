import { availableParallelism } from "node:os";
import { FeedBytes } from "../feed/feed-bytes.ts";
import { FeedUnreadable, unreadableCode } from "../feed/feed-unreadable.ts";
import type { LookTaken } from "../flow/bearings.ts";
import type { Railroad } from "../line/railroad.ts";
import type { RuleBook } from "../warning/rule-book.ts";
import type { Day } from "./day.ts";
import { EVERYTHING, type Narrow } from "./narrow.ts";
import type { Outputs } from "./outputs.ts";
import type { Standing } from "./progress.ts";
import type { ReplayOrder } from "./share-fold.ts";
import { MOST_THREADS } from "./shares.ts";
import { Threads } from "./threads.ts";

export interface ReplayOptions {
  railroad: Railroad;
  rules: RuleBook;
  /** Feed files in order, `-` for standard input; read one after the other as one feed. */
  feeds: readonly string[];
  narrow?: Narrow;
  /** Files to write; null: only the account is kept. */
  outputs?: Outputs | null;
  /**
   * Of a recorded feed, which passes are followed. `assembled` (the default): those put together from the readings again;
   * the end is the same, whatever the order was live. `recorded`: those that were followed live, in that very order, so
   * every version of a warning is the one that was published.
   */
  order?: ReplayOrder;
  /** Called once a piece of the feed. */
  onProgress?: (standing: Standing) => void;
  /** Sees every look at a bearing; with it all is folded by one thread. */
  observe?: ((taken: LookTaken) => void) | null;
  /** Threads that fold a long feed, this one among them; as many as the machine has cores for. The output is the same. */
  threads?: number;
}

/**
 * Runs recorded feeds through exactly the folds that run live. Returns the day's account; a feed that breaks off is folded
 * up to there, feeds behind it are not, and `Day.cutShort` says so.
 * @throws FeedUnreadable when nothing of a feed could be read, OutputUnwritable
 */
export async function replay(options: ReplayOptions): Promise<Day> {
  const { railroad, rules, feeds, outputs = null, narrow = EVERYTHING, observe = null, order = "assembled" } = options;
  const progress = { totalBytes: null as number | null };
  const threads = new Threads({
    railroad,
    rules,
    narrow,
    order,
    observe,
    withFiles: outputs !== null,
    threads: observe !== null ? 1 : (options.threads ?? Math.min(MOST_THREADS, availableParallelism())),
    publish: (published, standing, bytes) => {
      for (const { file, json } of published) if (json !== null) outputs?.putText(file, json);
      options.onProgress?.({ bytes, ...progress, ...standing });
    },
  });
  try {
    const cutShort = await readAll(feeds, threads, progress);
    const { account, records } = await threads.finish();
    for (const set of rules.sets) account.addRules(set.id);
    account.addRead(records);
    return { ...account.close(), cutShort };
  } finally {
    await threads.close();
  }
}

/** Gives every piece of every feed to the threads. Returns why it ended early, if it did. */
async function readAll(
  feeds: readonly string[],
  threads: Threads,
  progress: { totalBytes: number | null },
): Promise<FeedUnreadable | null> {
  let bytesBefore = 0;
  for (const [feed, path] of feeds.entries()) {
    const bytes = new FeedBytes(path);
    try {
      for await (const piece of readable(bytes, path)) {
        progress.totalBytes = feeds.length === 1 ? bytes.bytesTotal : null;
        await threads.piece(feed, piece, bytesBefore + bytes.bytesRead);
      }
    } catch (error) {
      if (!(error instanceof FeedUnreadable)) throw error;
      // An unfinished last line is left out: the error says where the feed broke off.
      const { lines } = await threads.settled();
      const unreadable = new FeedUnreadable(error.code, path, lines, error.byte, error.cause);
      if (lines > 0) return unreadable;
      throw unreadable;
    }
    await threads.feedEnd(feed);
    bytesBefore += bytes.bytesRead;
  }
  return null;
}

async function* readable(bytes: FeedBytes, path: string): AsyncGenerator<Buffer> {
  try {
    yield* bytes;
  } catch (cause) {
    throw new FeedUnreadable(unreadableCode(cause), path, 0, bytes.bytesRead, cause);
  }
}
