import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { readFeed } from "../../src/feed/feed-file.ts";
import { decodeLine } from "../../src/feed/feed-line.ts";
import { openFeedWriter } from "../../src/feed/feed-writer.ts";
import { axles, samples } from "./samples.ts";

let folder = "";
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "feed-writer-"));
});
afterAll(() => rmSync(folder, { recursive: true }));

describe("a written feed", () => {
  it.each(["jsonl", "jsonl.gz", "jsonl.zst"])("as %s is read back line by line", async (ending) => {
    const path = join(folder, `day.${ending}`);
    const writer = openFeedWriter(path);
    const expected: object[] = [];
    for (let i = 0; i < 3000; i++) {
      const [topic, record] = i % 2 === 0 ? samples[i % samples.length]! : (["axle-readings", { ...axles, pass: `p${i}` }] as const);
      await writer.write(topic, "k", record);
      expected.push(record);
    }
    await writer.writeRaw("not an envelope");
    await writer.close();
    expect(writer.lines).toBe(expected.length + 1);
    const got: unknown[] = [];
    for await (const batch of readFeed(path)) for (const line of batch) got.push(decodeLine(line).record ?? line.value);
    expect(got).toEqual([...expected, "not an envelope"]);
  });

  it("may be waited for later or never: what is behind is one wait, not a listener a block", async () => {
    const warned: Error[] = [];
    const note = (warning: Error) => warned.push(warning);
    process.on("warning", note);
    const writer = openFeedWriter(join(folder, "behind.jsonl"));
    const waits = new Set<Promise<void>>();
    for (let i = 0; i < 40; i++) {
      const wait = writer.writeRaw("x".repeat(70_000));
      if (wait !== undefined) waits.add(wait);
    }
    expect(waits.size).toBe(1);
    await Promise.all(waits);
    await writer.close();
    process.off("warning", note);
    expect(warned).toEqual([]);
    expect(readFileSync(join(folder, "behind.jsonl")).length).toBe(40 * 70_001);
  });

  it("is packed as its name says", async () => {
    for (const [ending, first] of [
      ["jsonl", 0x7b],
      ["jsonl.gz", 0x1f],
      ["jsonl.zst", 0x28],
    ] as const) {
      const path = join(folder, `first.${ending}`);
      const writer = openFeedWriter(path);
      await writer.write("consists", "k", {});
      await writer.close();
      expect(readFileSync(path)[0]).toBe(first);
    }
  });

  it("that cannot be written says so when it is closed", async () => {
    const writer = openFeedWriter(join(folder, "no", "such", "folder.jsonl.zst"));
    writer.write("consists", "k", {});
    await expect(writer.close()).rejects.toThrow(/ENOENT/);
  });

  it("that cannot be written does not leave a writer waiting", async () => {
    const writer = openFeedWriter(join(folder, "no", "such", "folder.jsonl"));
    const fill = async () => {
      for (let i = 0; i < 100; i++) await writer.writeRaw("x".repeat(70_000));
    };
    await expect(fill()).rejects.toThrow();
    await expect(writer.close()).rejects.toThrow(/ENOENT/);
  });
});
