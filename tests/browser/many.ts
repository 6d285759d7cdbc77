import type { Log } from "../../src/log/log.ts";
import type { Warning } from "../../src/warning/warning.ts";
import { START_MS, warning } from "../desk/samples.ts";

const LEVELS = ["watch", "watch", "watch", "warn", "limit"] as const;
const MINUTE_MS = 60_000;
const AT_ONCE = 1_000;

/** Of so many invented warnings the one with a number, in some version. */
export function oneOfMany(i: number, version = 1): Warning {
  return warning({
    id: `W-${String(i).padStart(5, "0")}`,
    version,
    level: LEVELS[i % LEVELS.length]!,
    train: `T${i % 400}`,
    axle: (i % 400) + 1,
    riseF: 60 + (i % 100) + version,
    time: new Date(START_MS + (i % 600) * MINUTE_MS + version * 1_000).toISOString(),
    setOut: i % 2 === 0 ? null : { place: "p", name: "Coldrill North", milepost: 48, miles: 3 + (i % 20), carLengths: 10 },
  });
}

/** Appends so many open warnings. */
export async function fillWith(log: Log, count: number): Promise<void> {
  for (let i = 0; i < count; i += AT_ONCE) {
    const some = Array.from({ length: Math.min(AT_ONCE, count - i) }, (_, k) => oneOfMany(i + k));
    await log.append(some.map((one) => ({ topic: "warnings", key: one.id, value: JSON.stringify(one) })));
  }
}
