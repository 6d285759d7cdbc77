import type { AddressInfo } from "node:net";
import type { Railroad } from "../line/railroad.ts";
import type { Log } from "../log/log.ts";
import type { Logger } from "../telemetry/logger.ts";
import { portMistake } from "../telemetry/port-mistake.ts";
import type { RuleBook } from "../warning/rule-book.ts";
import { type DeskClock, machineClock } from "./clock.ts";
import { Desk } from "./desk.ts";
import type { DeskConfig } from "./desk-config.ts";
import { builtPages } from "./page-build.ts";
import { Sessions } from "./people/sessions.ts";
import { peopleOf } from "./safe-opening.ts";
import { Doorkeeper } from "./server/doorkeeper.ts";
import { type DeskCounts, handlersOf } from "./server/handlers.ts";
import { serverOf } from "./server/server.ts";

export interface DeskOptions {
  config: DeskConfig;
  log: Log;
  railroad: Railroad;
  book: RuleBook;
  otherRules?: ReadonlyMap<string, RuleBook>;
  clock?: DeskClock;
  /** When records came: as the log says (`arrival`), or, where recorded days are fed in, as they say themselves (`feed`). */
  time?: "arrival" | "feed";
  /** Words for a demonstration, shown on every page. */
  demonstration?: string | null;
  logger?: Logger | null;
  /** What to do when its port is taken, where no configuration says it. */
  portRemedy?: string;
  counts?: Partial<DeskCounts>;
  /** false: the API without the pages, for tests. */
  pages?: boolean;
}

export interface RunningDesk {
  /** Where the page is. */
  url: string;
  port: number;
  desk: Desk;
  broken: Promise<Error>;
  close(): Promise<void>;
}

/** Where recorded days are fed in, it is as late as their data have come. */
function dataClock(desk: () => Desk): DeskClock {
  return {
    speed: 0,
    nowMs: () => {
      const { dataMs } = desk().state;
      return Number.isFinite(dataMs) ? dataMs : Date.now();
    },
  };
}

/** Opens the desk: reads the log up to now, builds the pages when they are stale, listens. @throws CommandError when it would be unsafe */
export async function startDesk(options: DeskOptions): Promise<RunningDesk> {
  const { config, log, railroad, book, logger = null } = options;
  const users = peopleOf(config);
  const doorkeeper = new Doorkeeper(config, users, new Sessions(config.sessions ?? null));
  const pages = options.pages === false ? null : await builtPages();
  const time = options.time ?? "arrival";
  const desk: Desk = new Desk({
    log,
    railroad,
    book,
    time,
    clock: options.clock ?? (time === "feed" ? dataClock(() => desk) : machineClock),
  });
  try {
    await desk.open();
  } catch (error) {
    await desk.close();
    throw error;
  }
  const counts: DeskCounts = { listening: () => {}, dropped: () => {}, acted: () => {}, refusedSignIn: () => {}, ...options.counts };
  const { handlers, close } = handlersOf({
    desk,
    doorkeeper,
    operators: config.operators,
    otherRules: options.otherRules ?? new Map(),
    demonstration: options.demonstration ?? null,
    counts,
  });
  const app = await serverOf(config, doorkeeper, handlers, pages, logger);
  try {
    await app.listen({ host: config.host, port: config.port });
  } catch (error) {
    await desk.close();
    throw portMistake("desk", config, error, options.portRemedy);
  }
  const { port } = app.server.address() as AddressInfo;
  const url = `${config.tls === undefined ? "http" : "https"}://${config.host.includes(":") ? `[${config.host}]` : config.host}:${port}/`;
  logger?.info("desk-opened", "The desk is open.", { url });
  return {
    url,
    port,
    desk,
    broken: desk.broken,
    close: async () => {
      await close();
      await app.close();
      await desk.close();
      logger?.info("desk-closed", "The desk is closed.");
    },
  };
}
