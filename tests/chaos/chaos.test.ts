import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { type Broker, brokerKind, startBroker } from "../broker/broker.ts";
import { chaosRun } from "./chaos-run.ts";

/** `CHAOS_FAULTS=300 CHAOS_SEED=7 vitest run tests/chaos` looks longer; `node tests/chaos/soak.ts` as long as one likes. */
const FAULTS = Number(process.env["CHAOS_FAULTS"] ?? 30);
const SEED = Number(process.env["CHAOS_SEED"] ?? 1);
const A_FAULT_MS = 10_000;

const found = await brokerKind(true);

describe.skipIf("reason" in found)(
  "two processes on a real broker, killed, stopped and continued, cut off, told to end, their broker killed",
  () => {
    let broker: Broker;
    beforeAll(async () => {
      broker = await startBroker({ own: true });
    });
    afterAll(() => broker.stop());

    it("leave in the log what a plain run says: every output once, every input accounted for, positions rising", {
      timeout: 300_000 + FAULTS * A_FAULT_MS,
    }, async () => {
      const said: string[] = [];
      const result = await chaosRun(broker, { seed: SEED, faults: FAULTS, fromHour: 18, hours: 3, say: (words) => said.push(words) });
      expect(result.wrong, said.join("\n")).toEqual([]);
      // Or it would prove nothing.
      expect(Object.values(result.faults).reduce((sum, n) => sum + n, 0)).toBe(FAULTS);
      expect(result.warnings).toBeGreaterThan(3);
      expect(result.passes).toBeGreaterThan(50);
      expect(result.commits).toBeGreaterThan(100);
    });
  },
);
