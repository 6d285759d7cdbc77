import { readFeed } from "../feed/feed-file.ts";
import { decodeLine } from "../feed/feed-line.ts";
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

export interface ReplayOptions {
  railroad: Railroad;
  rules: RuleBook;
  /** Feed files in order, `-` for standard input; read one after the other as one feed. */
  feeds: readonly string[];
  narrow?: Narrow;
  /** Files to write; null: only the account is kept. */
  outputs?: Outputs | null;
  /** Called once a batch. */
  onProgress?: (standing: Standing) => void;
  observe?: ((taken: LookTaken) => void) | null;
}

/**
 * Runs recorded feeds through exactly the folds that run live. Returns the day's account.
 * @throws FeedUnreadable after everything that could be read was folded, OutputUnwritable
 */
export async function replay(options: ReplayOptions): Promise<Day> {
  const { railroad, rules, outputs = null, narrow = EVERYTHING } = options;
  const account = new DayAccount(railroad, narrow);
  for (const set of rules.sets) account.addRules(set.id);
  const flow = new RailroadFlow(railroad, rules, reportTo(account, outputs, narrow), options.observe ?? null);
  let bytes = 0;
  for (const [partition, path] of options.feeds.entries()) {
    const feed = readFeed(path);
    const visitor: LineVisitor = {
      axles: (record, _key, line) => {
        const outcome = flow.step(record, "axle-readings", partition, line);
        if (outcome !== "rejected") account.addOutcome("axle-readings", outcome);
      },
      line: (line) => {
        const decoded = decodeLine(line, partition);
        if (decoded.rejected !== undefined) {
          account.addRejected(decoded.rejected);
          if (narrow.rejected(decoded.rejected)) outputs?.put("rejected", decoded.rejected);
          return;
        }
        const outcome = flow.step(decoded.record, line.topic, partition, line.line);
        if (outcome !== "rejected") account.addOutcome(line.topic, outcome);
      },
    };
    for await (const records of feed.shownTo(visitor)) {
      account.addRead(records);
      options.onProgress?.({
        bytes: bytes + feed.bytesRead,
        totalBytes: options.feeds.length === 1 ? feed.bytesTotal : null,
        axles: flow.axles,
        eventMs: flow.eventMs,
        warnings: account.warningsSoFar,
      });
    }
    bytes += feed.bytesRead;
  }
  flow.finish();
  account.addAxles(flow.axles);
  account.addFollowed(flow.looks);
  return account.close();
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
