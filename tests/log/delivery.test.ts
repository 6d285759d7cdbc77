import { describe, expect, it } from "vitest";
import { Delivery } from "../../src/log/delivery.ts";
import type { LogRecord } from "../../src/log/log.ts";

/** One partition whose records retention may take. */
class Kept {
  records: LogRecord[] = [];
  taken = 0;

  put(count: number): void {
    for (let left = count; left > 0; left--) {
      const offset = this.end();
      this.records.push({ topic: "in", partition: 0, offset, key: null, value: Buffer.alloc(0), headers: {}, arrivedMs: 0 });
    }
  }

  first(): number {
    return this.taken;
  }

  end(): number {
    return this.taken + this.records.length;
  }

  read(_topic: string, _partition: number, from: number): LogRecord[] {
    return this.records.filter(({ offset }) => offset >= from).slice(0, 3);
  }

  trimAll(): void {
    this.taken = this.end();
    this.records = [];
  }
}

describe("a delivery whose records retention takes while it is behind", () => {
  it("hands out nothing that is no record, and goes on with what comes next", async () => {
    const shelf = new Kept();
    shelf.put(10);
    const handed: number[][] = [];
    const hand = async (records: readonly LogRecord[]) => {
      if (records.length === 0) throw new Error("handed nothing");
      handed.push(records.map(({ offset }) => offset));
      if (handed.length === 1) shelf.trimAll();
    };
    let failed: Error | null = null;
    const delivery = new Delivery(shelf, "in", 0, hand, (error) => {
      failed = error;
    });
    delivery.resume(0);
    await new Promise((resolve) => setImmediate(resolve));
    expect(failed).toBe(null);
    shelf.put(2);
    delivery.wake();
    await delivery.stop();
    expect(handed).toEqual([
      [0, 1, 2],
      [10, 11],
    ]);
  });
});
