import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { openFeedWriter } from "../feed/feed-writer.ts";
import { INBOUND } from "../log/topics.ts";
import { recordDay } from "../replay/record-day.ts";
import type { LiveConfig } from "./config.ts";
import { readableLog } from "./readable-log.ts";

const HOUR_MS = 3_600_000;

/**
 * Hands over what the log of a running process took in during the last hours, as a feed file that is gone afterwards. The
 * process need not be stopped, and does not notice. @throws CommandError where there is no log
 */
export async function lately<T>(config: LiveConfig, hours: number, use: (feed: string) => Promise<T>): Promise<T> {
  const log = await readableLog(config);
  const folder = mkdtempSync(join(tmpdir(), "bearing-rise-lately-"));
  try {
    const feed = join(folder, "feed.jsonl.zst");
    const writer = openFeedWriter(feed);
    const nowMs = Date.now();
    const byArrival = config.railroad.time === "arrival";
    await recordDay({ log, fromMs: nowMs - hours * HOUR_MS, toMs: nowMs, writer, byArrival, topics: INBOUND });
    await writer.close();
    return await use(feed);
  } finally {
    await log.close();
    rmSync(folder, { recursive: true, force: true });
  }
}
