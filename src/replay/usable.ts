import { CommandError, EXIT } from "./exit-status.ts";
import { countOf } from "./words.ts";

/**
 * A feed of which not one record can be used is likely not the file that was meant, and an account of it that says "0 warnings"
 * must not be taken for a quiet day. @throws CommandError
 */
export function assertUsable(feeds: readonly string[], read: number, rejected: number): void {
  if (read > rejected) return;
  const names = feeds.map((feed) => (feed === "-" ? "standard input" : feed)).join(", ");
  const what = read === 0 ? "no record" : `${countOf(read, "record")}, and none of them can be used`;
  throw new CommandError(
    EXIT.feed,
    `FEED-107 nothing-usable: ${names}: ${what}. No bearing was looked at: that there is no warning means nothing. Check that this is the feed that was meant, and the line file that belongs to it; \`bearing-rise check\` shows what is wrong.`,
  );
}
