import { LineCutter } from "../feed/line-cutter.ts";
import type { LookTaken } from "../flow/bearings.ts";
import { shareOf } from "../flow/share.ts";
import { ownLineBook } from "../line/line-book.ts";
import type { Railroad } from "../line/railroad.ts";
import type { RuleBook } from "../warning/rule-book.ts";
import { DayAccount } from "./account.ts";
import type { Narrow } from "./narrow.ts";
import type { Published } from "./published.ts";
import { Publishing } from "./publishing.ts";
import { assembledWay, recordedWay, type Way } from "./way.ts";

/** See `ReplayOptions.order`. */
export type ReplayOrder = "assembled" | "recorded";

export interface ShareFoldOptions {
  railroad: Railroad;
  rules: RuleBook;
  narrow: Narrow;
  order: ReplayOrder;
  /** The corridors folded here. */
  corridors: readonly string[];
  /** Exactly one share of a day is the first: it tells of what belongs to no corridor. */
  isFirst: boolean;
  /** Whether records are wanted for the files. */
  withFiles: boolean;
  observe?: ((taken: LookTaken) => void) | null;
}

/** How far a share is. */
export interface ShareStanding {
  /** Of finished passes. */
  axles: number;
  eventMs: number;
  warnings: number;
}

/** The corridors of one thread over a whole day: every piece of it is shown to every share, in the same order. */
export class ShareFold {
  readonly account: DayAccount;
  readonly #way: Way;
  readonly #publishing: Publishing;
  #cutter = new LineCutter();
  /** Of the feeds before. */
  #recordsBefore = 0;
  #passedOver = 0;

  constructor(options: ShareFoldOptions) {
    const { narrow, corridors, isFirst, order } = options;
    // One book for all: what is announced in the feed is known to the share and to the account as well. Its own: another
    // replay of the same railroad must not begin with what this one was told.
    const railroad = ownLineBook(options.railroad);
    const share = shareOf(railroad, corridors, isFirst);
    const isWhole = corridors.length === railroad.corridors.length;
    const passOver = () => {
      this.#passedOver++;
    };
    this.account = new DayAccount(railroad, narrow);
    this.#publishing = new Publishing({ ...options, railroad }, this.account);
    const way = { ...options, railroad, share, isWhole, publishing: this.#publishing, account: this.account, passOver };
    this.#way = order === "recorded" ? recordedWay(way) : assembledWay(way);
  }

  /** Folds the lines that end within these bytes of a feed. Returns what they came to. */
  piece(feed: number, bytes: Buffer): Published[] {
    this.#cutter.visit(bytes, this.#way.visitor(feed));
    return this.#publishing.take();
  }

  /** The end of a feed: its last line, when that has no line break. */
  feedEnd(feed: number): Published[] {
    this.#cutter.visitEnd(this.#way.visitor(feed));
    this.#recordsBefore += this.#cutter.lines - this.#cutter.blank;
    this.#cutter = new LineCutter();
    return this.#publishing.take();
  }

  /** The end of the last feed: nothing more will come. */
  finish(): Published[] {
    const { flow } = this.#way;
    this.#publishing.end();
    flow.finish();
    this.account.addAxles(flow.axles);
    this.account.addFollowed(flow.looks);
    return this.#publishing.take();
  }

  /** Whole lines of the feed so far. */
  get lines(): number {
    return this.#cutter.lines;
  }

  /** Records of all feeds so far, without those that the others make anew, or that made them. */
  get records(): number {
    return this.#recordsBefore + this.#cutter.lines - this.#cutter.blank - this.#passedOver;
  }

  get standing(): ShareStanding {
    const { axles, eventMs } = this.#way.flow;
    return { axles, eventMs, warnings: this.account.warningsSoFar };
  }
}
