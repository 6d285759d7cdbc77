import { afterAll, beforeAll, describe } from "vitest";
import { type Broker, brokerKind, startBroker } from "../../broker/broker.ts";
import { logContract } from "../contract.ts";
import { kafkaBed } from "./bed.ts";

const found = await brokerKind();

/** A rebalance and a tail's joining take a second or two on a busy machine. */
const PATIENCE_MS = 30_000;

describe.skipIf("reason" in found)("on a real broker", () => {
  let broker: Broker;
  beforeAll(async () => {
    broker = await startBroker();
  });
  afterAll(() => broker.stop());

  logContract("kafka", (topics) => kafkaBed(broker.brokers, topics), { patienceMs: PATIENCE_MS });
});
