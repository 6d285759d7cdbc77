import { Command, InvalidArgumentError } from "commander";
import { CommandError, EXIT } from "../replay/exit-status.ts";
import { addressOf, SendMistake, SendRefused, sendFeed, tokenOf } from "./sender.ts";

const FASTEST = 10_000;

/** `bearing-rise send`: a recorded or simulated feed to a running process, as its sites would have sent it. */
export function sendCommand(): Command {
  return new Command("send")
    .description("Sends a feed file to POST /feed of a running process, at its own pace or faster: for a look, a trial, a load.")
    .argument("<feed>", "a feed file; - is standard input")
    .requiredOption("--to <url>", "address of POST /feed")
    .requiredOption("--token <reference>", "env:NAME or file:PATH, holding the bearer token")
    .option("--speed <times>", "so many times faster than the feed's own time", speedOf, 1)
    .option("--from-now", "move all times, so that the first is now")
    .addHelpText(
      "after",
      "\nExample:\n  bearing-rise send --to http://127.0.0.1:8471/feed --token env:FEED_TOKEN --from-now replay-data/day.jsonl.zst",
    )
    .action(async (feed: string, options: { to: string; token: string; speed: number; fromNow?: true }) => {
      const stop = new AbortController();
      for (const signal of ["SIGTERM", "SIGINT"] as const) process.on(signal, () => stop.abort());
      const { speed } = options;
      const say = (words: string) => process.stderr.write(`bearing-rise send: ${words}\n`);
      try {
        const [to, token] = [addressOf(options.to), tokenOf(options.token)];
        const { sent, refused } = await sendFeed({ feed, to, token, speed, fromNow: options.fromNow === true, signal: stop.signal, say });
        say(`${sent} records sent${refused === 0 ? "" : `, ${refused} of them refused: the receiver keeps them on the topic rejected`}`);
      } catch (error) {
        if (error instanceof SendMistake) throw new CommandError(EXIT.usage, `bearing-rise send: ${error.message}`);
        if (error instanceof SendRefused) throw new CommandError(EXIT.output, `bearing-rise send: ${error.message}`);
        throw error;
      }
    });
}

function speedOf(text: string): number {
  const speed = Number(text);
  if (!(speed > 0 && speed <= FASTEST)) throw new InvalidArgumentError(`a number above 0 and up to ${FASTEST}.`);
  return speed;
}
