import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import type { LogRecord } from "../../src/log/log.ts";
import { openSqliteLog } from "../../src/log/sqlite/sqlite-log.ts";
import { openSqliteReader } from "../../src/log/sqlite/sqlite-reader.ts";
import { until } from "../feed/input/taken.ts";

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "sqlite-reader-"));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

const open = () => openSqliteLog({ folder, partitions: new Map([["in", 2]]) });
const records = (from: number, to: number) =>
  Array.from({ length: to - from }, (_, i) => ({ topic: "in", key: "k", partition: (from + i) % 2, value: `${from + i}` }));

async function readAll(): Promise<{ seen: LogRecord[]; extent: { partition: number; from: number; end: number }[] }> {
  const reader = openSqliteReader(folder);
  const seen: LogRecord[] = [];
  const extent = await reader.extent("in");
  const tail = await reader.tail(
    extent.map(({ partition, from }) => ({ topic: "in", partition, offset: from })),
    { records: async (batch) => void seen.push(...batch.records) },
  );
  await until(() => seen.length === extent.reduce((sum, { from, end }) => sum + end - from, 0));
  await tail.close();
  await reader.close();
  return { seen, extent };
}

describe("a reader of the embedded log", () => {
  it("reads beside the process that has it open, as far as it was committed when it began", async () => {
    const log = await open();
    await log.append(records(0, 3_000));
    const { seen, extent } = await readAll();
    expect(extent).toEqual([
      { partition: 0, from: 0, end: 1_500 },
      { partition: 1, from: 0, end: 1_500 },
    ]);
    for (const partition of [0, 1]) {
      const own = seen.filter((record) => record.partition === partition);
      expect(own.map(({ offset }) => offset)).toEqual(Array.from({ length: 1_500 }, (_, i) => i));
      expect(own.map(({ value }) => Number(Buffer.from(value).toString()))).toEqual(
        Array.from({ length: 1_500 }, (_, i) => 2 * i + partition),
      );
    }
    await log.append(records(3_000, 3_010));
    expect((await readAll()).seen).toHaveLength(3_010);
    await log.close();
  });

  it("reads when no process has it open", async () => {
    const log = await open();
    await log.append(records(0, 10));
    await log.close();
    expect((await readAll()).seen).toHaveLength(10);
  });

  it("says so where there is no log", () => {
    expect(() => openSqliteReader(join(folder, "none"))).toThrow(/LOG-|cannot be opened/);
  });
});
