import { Command, CommanderError, InvalidArgumentError } from "commander";
import { demoCommand } from "./desk/demo/demo-command.ts";
import { userCommand } from "./desk/people/user-command.ts";
import { FeedUnreadable } from "./feed/feed-unreadable.ts";
import { liveCommand } from "./live/live-command.ts";
import { recordCommand } from "./live/record-command.ts";
import { sendCommand } from "./live/send-command.ts";
import { topicsCommand } from "./live/topics-command.ts";
import { NoRoomError, UnknownTopicError, UnreachableError } from "./log/log.ts";
import { LogInUseError, LogUnreadableError } from "./log/sqlite/errors.ts";
import { checkCommand } from "./replay/check-command.ts";
import { compareCommand } from "./replay/compare-command.ts";
import { CommandError, EXIT } from "./replay/exit-status.ts";
import { NarrowMistake } from "./replay/narrow.ts";
import { OutputUnwritable } from "./replay/outputs.ts";
import { replayCommand } from "./replay/replay-command.ts";
import { simulateCommand } from "./simulate/simulate-command.ts";
import { sitesCommand } from "./site/sites-command.ts";
import { WebhookMistake } from "./webhook/endpoint.ts";

const VERSION = "0.1.0";

const LOG_FAULTS = [UnreachableError, UnknownTopicError, LogInUseError, LogUnreadableError, NoRoomError];

const program = new Command("bearing-rise")
  .description(
    "Follows every railroad bearing over successive wayside detector sites and warns before one reaches a site's alarm limit.\n" +
      "It advises only: the site's own alarm, the operating rules, local codes and qualified people govern.",
  )
  .version(VERSION)
  .showHelpAfterError('Add "--help" for what a command takes, with an example.')
  .exitOverride();

for (const command of [
  liveCommand(VERSION),
  replayCommand(),
  compareCommand(),
  simulateCommand(),
  checkCommand(),
  sitesCommand(),
  recordCommand(),
  sendCommand(),
  topicsCommand(),
  demoCommand(),
  userCommand(),
]) {
  program.addCommand(command.copyInheritedSettings(program));
}

program.addHelpText(
  "after",
  `
Exit status: 0 done, 2 wrong usage, 3 mistakes in the line file, the rules or the configuration,
4 a feed could not be read to its end or holds nothing usable, 5 done but records were rejected (only with --strict),
6 results could not be written, 7 a running process could not go on, 70 a fault of ours.

Example:
  bearing-rise replay --line line.yaml --rules rules/ --out out day.jsonl.zst`,
);

/** Says what went wrong and returns the status for it. */
function failed(error: unknown): number {
  if (error instanceof CommanderError) return error.exitCode === 0 ? EXIT.done : EXIT.usage;
  if (error instanceof CommandError) {
    // Mistakes begin with their file and place, so that an editor finds them; everything else with who speaks.
    const speaker = /^[A-Z]+-\d/.test(error.message) ? "bearing-rise: " : "";
    process.stderr.write(`${speaker}${error.message.trimEnd()}\n`);
    return error.status;
  }
  const status = statusOf(error);
  process.stderr.write(`bearing-rise: ${status === EXIT.internal ? stackOf(error) : messageOf(error)}\n`);
  return status;
}

function statusOf(error: unknown): number {
  if (error instanceof WebhookMistake) return EXIT.lineOrRules;
  // The log is not there, not ours, or not as it must be: the message says what to do, and a supervisor may try again.
  if (LOG_FAULTS.some((fault) => error instanceof fault)) return EXIT.broken;
  if (error instanceof FeedUnreadable) return EXIT.feed;
  if (error instanceof NarrowMistake || error instanceof InvalidArgumentError) return EXIT.usage;
  return error instanceof OutputUnwritable ? EXIT.output : EXIT.internal;
}

function messageOf(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}

function stackOf(error: unknown): string {
  return `a fault of ours, please report it: ${error instanceof Error ? (error.stack ?? error.message) : String(error)}`;
}

// Whoever started this process is gone, as after a kill -9: end as when told to, or ports and folders stay taken by nobody.
if (process.channel) {
  process.once("disconnect", () => process.kill(process.pid, "SIGTERM"));
  // Listening alone must not keep a command running that is done.
  process.channel.unref();
}

// A reader that goes away (`| head`) is no fault.
process.stdout.on("error", (error: NodeJS.ErrnoException) => process.exit(error.code === "EPIPE" ? EXIT.done : EXIT.output));

try {
  await program.parseAsync();
} catch (error) {
  process.exitCode = failed(error);
}
