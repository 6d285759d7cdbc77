import type { ShareFold } from "./share-fold.ts";
import type { Step, Stepped } from "./thread-messages.ts";

/** A share taken one step on. `memory`: where pieces of the feeds lie. */
export function stepped(fold: ShareFold, step: Step, memory: SharedArrayBuffer): Stepped {
  const published =
    step.type === "piece"
      ? fold.piece(step.feed, Buffer.from(memory, step.at, step.bytes))
      : step.type === "feed-end"
        ? fold.feedEnd(step.feed)
        : fold.finish();
  return { published, standing: fold.standing, part: step.type === "finish" ? fold.account.part() : null };
}
