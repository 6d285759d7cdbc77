import { startBroker } from "../../broker/broker.ts";
import { BenchBed } from "./bench-bed.ts";
import { feed, writeLine } from "./latency.ts";

/**
 * Is the memory of a running process flat? `node tests/bench/kafka/soak.ts [minutes] [axles a second]` feeds it at a steady
 * rate, prints what it holds each minute, and at the end the first tenth of the time against the last. Judges nothing.
 */
const [minutes = 60, rate = 3_000] = process.argv.slice(2).map(Number);
const LOOK_EVERY_MS = 1_000;
const A_MINUTE_MS = 60_000;

const broker = await startBroker();
const bed = await BenchBed.make(broker.brokers, writeLine(), "arrival");
const looks: number[] = [];
try {
  bed.start();
  const looking = setInterval(() => {
    looks.push(bed.usage().residentMb);
    if ((looks.length * LOOK_EVERY_MS) % A_MINUTE_MS === 0) tell(`minute ${(looks.length * LOOK_EVERY_MS) / A_MINUTE_MS}`, lastMinute());
  }, LOOK_EVERY_MS);
  await feed(
    bed,
    rate,
    minutes * A_MINUTE_MS,
    () => {},
    async () => {},
  );
  clearInterval(looking);
  const tenth = Math.ceil(looks.length / 10);
  tell("first tenth", looks.slice(0, tenth));
  tell("last tenth", looks.slice(-tenth));
  const { cpuSeconds, mostResidentMb } = bed.usage();
  const cpu = ((cpuSeconds / (minutes * 60)) * 100).toFixed(0);
  console.log(`${minutes} minutes at ${rate} axles/s: ${mostResidentMb.toFixed(0)} MB at most, ${cpu} % of one CPU`);
} finally {
  await bed.close();
  await broker.stop();
}
process.exit(0);

function lastMinute(): number[] {
  return looks.slice(-A_MINUTE_MS / LOOK_EVERY_MS);
}

function tell(words: string, megabytes: readonly number[]): void {
  const mean = megabytes.reduce((sum, one) => sum + one, 0) / megabytes.length;
  console.log(`${words}: ${mean.toFixed(0)} MB on average, ${Math.max(...megabytes).toFixed(0)} at most`);
}
