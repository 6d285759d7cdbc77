import { startBroker } from "../broker/broker.ts";
import { chaosRun } from "./chaos-run.ts";

/**
 * As long as one likes: `node tests/chaos/soak.ts [faults a run] [runs] [first seed]`. Stops at the first run that left
 * something wrong in the log, and says its seed.
 */
const [faults = 100, runs = 10, first = 1] = process.argv.slice(2).map(Number);

const broker = await startBroker({ own: true });
for (let seed = first; seed < first + runs; seed++) {
  const result = await chaosRun(broker, {
    seed,
    faults,
    fromHour: 18,
    hours: 3,
    say: (words) => console.log(`${new Date().toISOString()} ${words}`),
  });
  console.log(`seed ${seed}: ${JSON.stringify(result)}`);
  // The broker's folder stays too: what stands in the log byte by byte is what has to be looked at.
  if (result.wrong.length > 0) process.exit(1);
}
await broker.stop();
