import { describe, expect, it } from "vitest";
import type { Log } from "../../src/log/log.ts";
import { MemoryBroker, type MemoryFaults } from "../../src/log/memory.ts";
import { logContract } from "./contract.ts";

logContract("memory", async (partitions) => {
  const fates = new Map<Log, "done-unanswered" | "undone-unanswered">();
  const made = new MemoryBroker({ partitions });
  return {
    connect: async ({ waitingBytes } = {}) => {
      // The bound is the broker's: a log that asks for another one gets a broker of its own.
      const broker = waitingBytes === undefined ? made : new MemoryBroker({ partitions, waitingBytes });
      let log: Log;
      const faults: MemoryFaults = {
        fate: () => {
          const fate = fates.get(log);
          fates.delete(log);
          return fate ?? "answered";
        },
      };
      log = broker.connect(faults);
      return log;
    },
    close: async () => {},
    loseAnswer: async (log, how) => {
      fates.set(log, how === "done" ? "done-unanswered" : "undone-unanswered");
      return how;
    },
  };
});

describe("the memory log under test", () => {
  it("never answers a process that was killed, and gives its partitions to another only when it is taken for dead", async () => {
    const broker = new MemoryBroker({ partitions: new Map([["in", 1]]) });
    const [dying, living] = [broker.connect(), broker.connect()];
    const held: string[] = [];
    const worker = (name: string) => ({
      assigned: async () => {
        held.push(name);
        return 0;
      },
      records: async () => {},
      revoked: async () => {},
    });
    await dying.work("fold", ["in"], worker("dying"));
    await living.work("fold", ["in"], worker("living"));
    await new Promise((resolve) => setImmediate(resolve));
    expect(held).toEqual(["dying"]);
    dying.kill();
    let answered = false;
    void dying.append([{ topic: "in", key: "k", value: "x" }]).then(() => {
      answered = true;
    });
    await new Promise((resolve) => setImmediate(resolve));
    expect([answered, held]).toEqual([false, ["dying"]]);
    dying.bury();
    await new Promise((resolve) => setImmediate(resolve));
    expect(held).toEqual(["dying", "living"]);
  });
});
