import { readFeed } from "../feed/feed-file.ts";
import { decodeLine } from "../feed/feed-line.ts";
import { FeedUnreadable } from "../feed/feed-unreadable.ts";
import type { LineVisitor } from "../feed/line-cutter.ts";
import type { LookTaken } from "../flow/bearings.ts";
import { RailroadFlow } from "../flow/railroad-flow.ts";
import type { Sink } from "../flow/sink.ts";
import type { Railroad } from "../line/railroad.ts";
import { recordOfPass } from "../pass/pass-record.ts";
import type { RuleBook } from "../warning/rule-book.ts";
import { DayAccount } from "./account.ts";
import type { Day } from "./day.ts";
import { EVERYTHING, type Narrow } from "./narrow.ts";
import type { Outputs } from "./outputs.ts";
import type { Standing } from "./progress.ts";
import { RecordedOrder } from "./recorded-order.ts";

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
  order?: "assembled" | "recorded";
  /** Called once a batch. */
  onProgress?: (standing: Standing) => void;
  observe?: ((taken: LookTaken) => void) | null;
}

/**
 * Runs recorded feeds through exactly the folds that run live. Returns the day's account; a feed that breaks off is folded
 * up to there, feeds behind it are not, and `Day.cutShort` says so.
 * @throws FeedUnreadable when nothing of a feed could be read, OutputUnwritable
 */
export async function replay(options: ReplayOptions): Promise<Day> {
  const { railroad, rules, outputs = null, narrow = EVERYTHING } = options;
  const account = new DayAccount(railroad, narrow);
  for (const set of rules.sets) account.addRules(set.id);
  const sink = reportTo(account, outputs, narrow);
  const way = options.order === "recorded" ? recordedWay(options, sink, account) : assembledWay(options, sink, account);
  const cutShort = await readAll(options, way, account);
  way.flow.finish();
  account.addAxles(way.flow.axles);
  account.addFollowed(way.flow.looks);
  return { ...account.close(), cutShort };
}

/** Shows every record of every feed to the folds. Returns why it ended early, if it did. */
async function readAll(options: ReplayOptions, way: Way, account: DayAccount): Promise<FeedUnreadable | null> {
  let bytes = 0;
  for (const [partition, path] of options.feeds.entries()) {
    const feed = readFeed(path);
    try {
      for await (const records of feed.shownTo(way.visitor(partition))) {
        account.addRead(records - way.passedOver());
        options.onProgress?.({
          bytes: bytes + feed.bytesRead,
          totalBytes: options.feeds.length === 1 ? feed.bytesTotal : null,
          axles: way.flow.axles,
          eventMs: way.flow.eventMs,
          warnings: account.warningsSoFar,
        });
      }
    } catch (error) {
      if (error instanceof FeedUnreadable && error.line > 0) return error;
      throw error;
    }
    bytes += feed.bytesRead;
  }
  return null;
}

/** Which records of a feed are folded, and by what. */
interface Way {
  flow: Pick<RailroadFlow, "finish"> & { readonly axles: number; readonly eventMs: number; readonly looks: number };
  visitor(partition: number): LineVisitor;
  /** Records passed over since it was last asked: those that the ones folded make anew, or that made them. */
  passedOver(): number;
}

function assembledWay({ railroad, rules, observe = null }: ReplayOptions, sink: Sink, account: DayAccount): Way {
  const flow = new RailroadFlow(railroad, rules, sink, observe);
  const passedOver = new Tally();
  return {
    flow,
    passedOver: () => passedOver.take(),
    visitor: (partition) => ({
      axles: (record, _key, line) => {
        const outcome = flow.step(record, "axle-readings", partition, line);
        if (outcome !== "rejected") account.addOutcome("axle-readings", outcome);
      },
      line: (line) => {
        if (line.topic === "passes") {
          passedOver.count++;
          return;
        }
        const decoded = decodeLine(line, partition);
        if (decoded.rejected !== undefined) {
          sink.rejected(decoded.rejected);
          flow.refused(decoded.rejected, line.key);
          return;
        }
        const { recorded } = line;
        const at = recorded ?? { partition, offset: line.line, arrivedMs: undefined };
        const outcome = flow.step(decoded.record, line.topic, at.partition, at.offset, at.arrivedMs);
        if (outcome !== "rejected") account.addOutcome(line.topic, outcome);
      },
    }),
  };
}

function recordedWay({ railroad, rules, observe = null }: ReplayOptions, sink: Sink, account: DayAccount): Way {
  const flow = new RecordedOrder(railroad, rules, sink, observe);
  const passedOver = new Tally();
  const passOver = () => {
    passedOver.count++;
  };
  return {
    flow,
    passedOver: () => passedOver.take(),
    visitor: () => ({
      axles: passOver,
      line: (line) => {
        if (line.topic !== "passes") {
          passOver();
          return;
        }
        const outcome = flow.step(line);
        if (outcome !== "rejected") account.addOutcome(line.topic, outcome);
      },
    }),
  };
}

class Tally {
  count = 0;

  take(): number {
    const { count } = this;
    this.count = 0;
    return count;
  }
}

/** Hands what the folds publish to the account (all of it) and to the files (what was asked for). */
function reportTo(account: DayAccount, outputs: Outputs | null, narrow: Narrow): Sink {
  return {
    pass: (pass) => {
      account.addPass(pass);
      if (outputs !== null && narrow.pass(pass, pass.train, null)) outputs.put("passes", recordOfPass(pass));
    },
    warning: (warning) => {
      account.addWarning(warning);
      if (narrow.warning(warning)) outputs?.put("warnings", warning);
    },
    condition: (condition) => {
      account.addCondition(condition);
      if (narrow.condition(condition)) outputs?.put("siteConditions", condition);
    },
    calibration: () => {},
    rejected: (rejected) => {
      account.addRejected(rejected);
      if (narrow.rejected(rejected)) outputs?.put("rejected", rejected);
    },
    settled: (journey, leg, doubt, corridor) => {
      account.addJoin(journey, leg, corridor);
      if (doubt !== null) account.addDoubt(doubt, corridor);
    },
  };
}
