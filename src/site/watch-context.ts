import type { Railroad } from "../line/railroad.ts";
import type { ConditionBook } from "./condition-book.ts";
import type { SiteRules } from "./site-rules.ts";

/** What every judge of the sites needs. `owned`: the sites whose conditions are published here; others are only neighbours. */
export interface WatchContext {
  railroad: Railroad;
  owned: ReadonlySet<string>;
  book: ConditionBook;
  rulesAt(ms: number): SiteRules;
}
