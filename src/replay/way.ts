import { Elsewhere } from "../feed/elsewhere.ts";
import { decodeLine, type FeedLine } from "../feed/feed-line.ts";
import type { LineVisitor } from "../feed/line-cutter.ts";
import type { FeedRecord, Rejected } from "../feed/record.ts";
import { refusal, reject } from "../feed/reject.ts";
import type { LookTaken } from "../flow/bearings.ts";
import { RailroadFlow } from "../flow/railroad-flow.ts";
import type { Share } from "../flow/share.ts";
import type { Railroad } from "../line/railroad.ts";
import type { RuleBook } from "../warning/rule-book.ts";
import type { DayAccount } from "./account.ts";
import type { Publishing } from "./publishing.ts";
import { RecordedOrder } from "./recorded-order.ts";

/** Which records of a feed are folded, and by what. */
export interface Way {
  flow: Pick<RailroadFlow, "finish"> & { readonly axles: number; readonly eventMs: number; readonly looks: number };
  visitor(feed: number): LineVisitor;
}

export interface WayOptions {
  railroad: Railroad;
  rules: RuleBook;
  share: Share;
  /** Whether the share is all there is. */
  isWhole: boolean;
  observe?: ((taken: LookTaken) => void) | null;
  publishing: Publishing;
  account: DayAccount;
  /** Called for a record that the others make anew, or that made them. */
  passOver: () => void;
}

/** All but the passes of a recorded feed: they are assembled from the readings again. */
export function assembledWay(options: WayOptions): Way {
  const { railroad, rules, share, observe = null, publishing, account, passOver } = options;
  const flow = new RailroadFlow(railroad, rules, publishing.sink, observe, undefined, share);
  const elsewhere = new Elsewhere(share.hears);
  elsewhere.isOn = !options.isWhole;
  const refused = (rejected: Rejected, line: FeedLine, home: string | null) => {
    if (share.tells(home ?? undefined)) publishing.sink.rejected(rejected);
    if (home === null) flow.refused(rejected, line.key);
    else flow.refusedOf(rejected, home);
  };
  const visitor = (feed: number): LineVisitor => ({
    elsewhere,
    axles: (record, _key, line) => {
      publishing.line = line;
      const outcome = flow.step(record, "axle-readings", feed, line);
      if (flow.isTold && outcome !== "rejected") account.addOutcome("axle-readings", outcome);
    },
    line: (line, home) => {
      publishing.line = line.line;
      if (line.topic === "passes" && home === null) {
        passOver();
        return;
      }
      const at = line.recorded ?? { partition: feed, offset: line.line, arrivedMs: undefined };
      const decoded = decodeLine(line, feed);
      if (decoded.rejected !== undefined) return refused(decoded.rejected, line, home);
      if (!isAtHome(decoded.record, home)) return refused(reject(SAID_TWICE, line.value, { topic: line.topic, ...at }), line, home);
      const outcome = flow.step(decoded.record, line.topic, at.partition, at.offset, at.arrivedMs);
      if (flow.isTold && outcome !== "rejected") account.addOutcome(line.topic, outcome);
      elsewhere.isOn = !options.isWhole && flow.mayPassOver;
    },
  });
  return { flow, visitor };
}

/** JSON takes the last of two fields of one name; whoever passes over a line has seen only the first. */
const SAID_TWICE = refusal("FEED-004 not-an-envelope", "", "one topic, one key and one value");

function isAtHome(record: FeedRecord, home: string | null): boolean {
  return home === null || (record.type === "axles" && record.site === home);
}

/** Of a recorded feed the passes alone, in the order in which they were followed. */
export function recordedWay({ railroad, rules, share, observe = null, publishing, account, passOver }: WayOptions): Way {
  const flow = new RecordedOrder(railroad, rules, publishing.sink, observe, share);
  const visitor: LineVisitor = {
    axles: passOver,
    line: (line) => {
      publishing.line = line.line;
      if (line.topic !== "passes") {
        passOver();
        return;
      }
      const outcome = flow.step(line);
      if (outcome !== null && outcome !== "rejected") account.addOutcome(line.topic, outcome);
    },
  };
  return { flow, visitor: () => visitor };
}
