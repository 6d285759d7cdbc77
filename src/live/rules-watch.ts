import { readdirSync, statSync } from "node:fs";
import { join } from "node:path";
import type { Clock } from "../flow/clock.ts";
import { outbound } from "../flow/wire.ts";
import { formatMistakes } from "../line/mistake.ts";
import type { Railroad } from "../line/railroad.ts";
import type { Log } from "../log/log.ts";
import type { Logger } from "../telemetry/logger.ts";
import type { RuleBook } from "../warning/rule-book.ts";
import type { Rules } from "../warning/rule-set.ts";
import { loadRules } from "../warning/rules.ts";

const LOOK_EVERY_MS = 5_000;

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

export interface RulesWatch {
  /** Looks now, instead of when the time comes. */
  look(): Promise<void>;
  close(): Promise<void>;
}

/**
 * Looks at the rules while running. A new dated set without mistakes is announced in the log, to every corridor, and is in
 * force from its own date on, live as in a replay. A set that was announced stays as it was: a change is a new set.
 */
export function startRulesWatch(parts: RulesWatchParts): RulesWatch {
  const { path, clock, logger } = parts;
  let seen = signature(path);
  let looking: Promise<void> = Promise.resolve();
  let isClosed = false;
  let cancel = () => {};
  const look = async () => {
    const now = signature(path);
    if (now === seen) return;
    const { rules, mistakes } = loadRules(path);
    if (rules === null) {
      logger.warn("rules-refused", `the rules are left as they are: ${formatMistakes(mistakes)}`, { path });
      seen = now;
      return;
    }
    for (const set of rules.sets) await take(set, parts);
    seen = now;
  };
  const tick = () => {
    looking = look().catch((error: unknown) => logger.warn("log-failed", "new rules could not be announced; they will be", { error }));
    void looking.then(() => {
      if (!isClosed) cancel = clock.after(LOOK_EVERY_MS, tick);
    });
  };
  cancel = clock.after(LOOK_EVERY_MS, tick);
  return {
    look,
    close: async () => {
      isClosed = true;
      cancel();
      await looking;
    },
  };
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

/** Changes when a file does, comes or goes. */
function signature(path: string): string {
  try {
    const files = statSync(path).isDirectory()
      ? readdirSync(path)
          .sort()
          .map((name) => join(path, name))
      : [path];
    return files
      .map((file) => {
        const { mtimeMs, size } = statSync(file);
        return `${file} ${mtimeMs} ${size}`;
      })
      .join("\n");
  } catch {
    return "unreadable";
  }
}
