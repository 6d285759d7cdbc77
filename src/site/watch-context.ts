import type { Railroad } from "../line/railroad.ts";
import type { ConditionBook } from "./condition-book.ts";
import type { SiteRules } from "./site-rules.ts";
import type { SiteWords } from "./site-words.ts";

/** What every judge of the sites needs. `owned`: the sites whose conditions are published here; others are only neighbours. */
export interface WatchContext {
  railroad: Railroad;
  owned: ReadonlySet<string>;
  book: ConditionBook;
  /** How sites, devices and times are told to people. */
  said: SiteWords;
  rulesAt(ms: number): SiteRules;
}
