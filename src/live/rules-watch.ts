import type { Clock } from "../flow/clock.ts";
import { outbound } from "../flow/wire.ts";
import { formatMistakes } from "../line/mistake.ts";
import type { Railroad } from "../line/railroad.ts";
import type { Log } from "../log/log.ts";
import type { Logger } from "../telemetry/logger.ts";
import type { RuleBook } from "../warning/rule-book.ts";
import type { Rules } from "../warning/rule-set.ts";
import { loadRules } from "../warning/rules.ts";
import { type FileWatch, startFileWatch } from "./file-watch.ts";

export interface RulesWatchParts {
  /** The rules file, or the folder of dated ones. */
  path: string;
  /** What this process began with; what is announced is added. */
  book: RuleBook;
  railroad: Railroad;
  log: Log;
  clock: Clock;
  logger: Logger;
}

/**
 * Looks at the rules while running. A new dated set without mistakes is announced in the log, to every corridor, and is in
 * force from its own date on, live as in a replay. A set that was announced stays as it was: a change is a new set.
 */
export function startRulesWatch(parts: RulesWatchParts): FileWatch {
  const { path, clock, logger } = parts;
  return startFileWatch({
    path,
    clock,
    changed: async () => {
      const { rules, mistakes } = loadRules(path);
      if (rules === null) logger.warn("rules-refused", `the rules are left as they are: ${formatMistakes(mistakes)}`, { path });
      for (const set of rules?.sets ?? []) await take(set, parts);
    },
    failed: (error) => logger.warn("log-failed", "new rules could not be announced; they will be", { error }),
  });
}

async function take(rules: Rules, { book, railroad, log, clock, logger, path }: RulesWatchParts): Promise<void> {
  const known = book.sets.find(({ id }) => id === rules.id);
  if (known !== undefined) {
    if (JSON.stringify(known) === JSON.stringify(rules)) return;
    logger.warn("rules-refused", `${rules.id} says other things than when it was taken: give the change an id and a date of its own`, {
      path,
    });
    return;
  }
  const time = new Date(clock.now()).toISOString();
  const announced = JSON.stringify({ type: "rules", time, rules });
  await log.append(railroad.corridors.map(({ id }) => outbound("passes", id, "rules", `rules/${rules.id}`, time, announced)));
  book.take(rules);
  logger.info("rules-changed", `${rules.id} is announced, in force from ${rules.from}`, { rules: rules.id, from: rules.from });
}
