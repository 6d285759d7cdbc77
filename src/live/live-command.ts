import { Command, InvalidArgumentError } from "commander";
import { CommandError, EXIT } from "../replay/exit-status.ts";
import { createLogger, type Logger } from "../telemetry/logger.ts";
import { type LiveConfig, loadConfig, STAGES, type StageName } from "./config.ts";
import { type Running, startLive } from "./live.ts";

/** A process that was asked to stop has stopped by then, whatever holds it up. What it leaves undone is done again from the log. */
const STOP_WITHIN_MS = 2_800;

export function liveCommand(version: string): Command {
  return new Command("live")
    .description("Runs until stopped: reads the feed, follows every bearing, publishes warnings. Ends cleanly on SIGTERM or SIGINT.")
    .requiredOption("--config <file>", "configuration, YAML")
    .option("--stages <names>", `only these stages, instead of the configuration's: ${STAGES.join(",")}`, stagesOf)
    .addHelpText(
      "after",
      `
Without \`log: {kafka: ...}\` in the configuration the log is a file in the data folder, and nothing else is needed.
A sample with everything that can be set: deploy/live.yaml

Example:
  bearing-rise live --config deploy/live.yaml`,
    )
    .action(async ({ config, stages }: { config: string; stages?: StageName[] }) => {
      const loaded = loadConfig(config);
      await run(stages === undefined ? loaded : { ...loaded, stages }, config, version);
    });
}

function stagesOf(text: string): StageName[] {
  const names = text.split(",").map((name) => name.trim());
  for (const name of names) {
    if (!(STAGES as readonly string[]).includes(name))
      throw new InvalidArgumentError(`no stage is called "${name}"; there are ${STAGES.join(" and ")}.`);
  }
  return STAGES.filter((stage) => names.includes(stage));
}

/** Runs until it is told to stop or cannot go on. @throws CommandError when it could not go on */
async function run(config: LiveConfig, file: string, version: string): Promise<void> {
  const logger = createLogger({ level: config.telemetry.log.level });
  logger.info("process-starting", `bearing-rise ${version} with ${file}`, { version, config: file, stages: config.stages });
  // Before anything is started: a signal that comes early must not be lost.
  const stop = toldToStop();
  const running = await startLive(config, logger, version);
  logger.info("process-ready", "everything that was asked for runs", { ...running.urls });
  const ended = await Promise.race([stop, running.broken]);
  if (ended instanceof Error) logger.error("process-failed", `cannot go on: ${ended.message}`, { error: ended });
  else logger.info("process-stopping", `told to stop by ${ended}`, { signal: ended });
  await stopped(running, logger);
  if (ended instanceof Error)
    throw new CommandError(EXIT.broken, `bearing-rise: cannot go on and ends, to be started again: ${ended.message}`);
}

function toldToStop(): Promise<NodeJS.Signals> {
  return new Promise((resolve) => {
    // Not once: a terminal tells the launcher and this process, and the second telling must not cut the closing short.
    for (const signal of ["SIGTERM", "SIGINT"] as const) process.on(signal, () => resolve(signal));
  });
}

/** Closes everything, or ends the process when that takes too long. */
async function stopped(running: Running, logger: Logger): Promise<void> {
  const late = setTimeout(() => {
    logger.warn("process-stopped", "not everything could be closed in time; the log takes care of the rest", { withinMs: STOP_WITHIN_MS });
    process.exit(EXIT.done);
  }, STOP_WITHIN_MS);
  await running.close();
  clearTimeout(late);
  logger.info("process-stopped", "everything is closed");
}
