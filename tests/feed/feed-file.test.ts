import { spawnSync } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { constants, gzipSync, zstdCompressSync } from "node:zlib";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { readFeed } from "../../src/feed/feed-file.ts";
import { decodeLine, type FeedLine } from "../../src/feed/feed-line.ts";
import { FeedUnreadable } from "../../src/feed/feed-unreadable.ts";
import { LINE_BYTES, RAW_BYTES, RECORD_BYTES } from "../../src/feed/limits.ts";
import { axles, begun, envelope, samples } from "./samples.ts";

let folder = "";
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "feed-file-"));
});
afterAll(() => rmSync(folder, { recursive: true }));

let files = 0;
function fileOf(content: string | Buffer): string {
  const path = join(folder, `feed-${files++}`);
  writeFileSync(path, content);
  return path;
}

async function linesOf(content: string | Buffer): Promise<FeedLine[]> {
  return (await readAll(fileOf(content))).lines;
}

async function readAll(path: string): Promise<{ lines: FeedLine[]; error: FeedUnreadable | null }> {
  const lines: FeedLine[] = [];
  try {
    for await (const batch of readFeed(path)) lines.push(...batch);
  } catch (error) {
    expect(error).toBeInstanceOf(FeedUnreadable);
    return { lines, error: error as FeedUnreadable };
  }
  return { lines, error: null };
}

function reasonsOf(lines: FeedLine[]): string[] {
  return lines.map((line) => decodeLine(line).rejected?.reason ?? "used");
}

/** A feed of some hundred kilobytes that does not compress to nothing. */
const day = Array.from({ length: 4000 }, (_, i) =>
  envelope("axle-readings", { ...axles, pass: `p${i}`, ms: [i, Math.imul(i, 7919) & 0xfffff] }),
);
const dayText = day.join("\n") + "\n";

describe("a feed file", () => {
  it("is read in the order of its lines, with their numbers", async () => {
    const lines = await linesOf(samples.map(([topic, record]) => envelope(topic, record)).join("\n"));
    expect(lines.map((line) => [line.line, line.topic, line.key])).toEqual(samples.map(([topic], i) => [i + 1, topic, "alder-14"]));
    expect(lines.map((line) => decodeLine(line).record)).toEqual(samples.map(([, record]) => record));
  });

  it("reads the same plain, gzipped and as zstd, whatever it is called", async () => {
    const plain = await linesOf(dayText);
    expect(plain.length).toBe(day.length);
    expect(await linesOf(gzipSync(dayText))).toEqual(plain);
    expect(await linesOf(zstdCompressSync(dayText))).toEqual(plain);
  });

  it("reads compressed files put one behind the other, as a logger leaves them", async () => {
    const parts = Array.from({ length: 40 }, (_, i) => day.slice(i * 100, i * 100 + 100).join("\n") + "\n");
    const plain = await linesOf(dayText);
    expect(await linesOf(Buffer.concat(parts.map((part) => zstdCompressSync(part))))).toEqual(plain);
    expect(await linesOf(Buffer.concat(parts.map((part) => gzipSync(part))))).toEqual(plain);
  });

  it("passes over a skippable zstd frame", async () => {
    const skippable = Buffer.from([0x50, 0x2a, 0x4d, 0x18, 3, 0, 0, 0, 1, 2, 3]);
    const zstd = zstdCompressSync(dayText);
    expect((await linesOf(Buffer.concat([skippable, zstd, skippable, zstd]))).length).toBe(2 * day.length);
  });

  it("may be empty, also when compressed, or hold blank lines only", async () => {
    for (const empty of ["", gzipSync(""), zstdCompressSync(""), "\n\r\n\n"]) expect(await linesOf(empty)).toEqual([]);
  });

  it("may begin with a byte order mark and end its lines as Windows does", async () => {
    const lines = await linesOf("\ufeff" + day.slice(0, 3).join("\r\n") + "\r\n\r\n" + day[3]);
    expect(reasonsOf(lines)).toEqual(["used", "used", "used", "used"]);
    expect(lines.map((line) => line.line)).toEqual([1, 2, 3, 5]);
  });

  it("needs no line break at its end", async () => {
    expect((await linesOf(dayText.trimEnd())).length).toBe(day.length);
  });

  it("may hold any UTF-8", async () => {
    const lines = await linesOf(envelope("desk-actions", { note: "Öl 🚂" }) + "\n" + envelope("axle-readings", begun));
    expect(lines[0]!.value).toEqual({ note: "Öl 🚂" });
    expect(reasonsOf(lines)).toEqual(["FEED-007 unknown-type", "used"]);
  });

  it("may hold a record as an escaped string, also one that is no JSON", async () => {
    const lines = await linesOf(
      [envelope("axle-readings", JSON.stringify(begun)), envelope("axle-readings", '{"type":"pass-be')].join("\n"),
    );
    expect(decodeLine(lines[0]!).record).toEqual(begun);
    const rejected = decodeLine(lines[1]!).rejected!;
    expect([rejected.reason, rejected.raw, rejected.offset]).toEqual(["FEED-002 not-json", '{"type":"pass-be', 2]);
  });

  it("may come through standard input, packed or not", () => {
    const program = `
      import { readFeed } from ${JSON.stringify(new URL("../../src/feed/feed-file.ts", import.meta.url).href)};
      let lines = 0;
      for await (const batch of readFeed("-")) lines += batch.length;
      console.log(lines);`;
    for (const input of [dayText, gzipSync(dayText), zstdCompressSync(dayText)]) {
      const run = spawnSync(process.execPath, ["--input-type=module", "--eval", program], { input, encoding: "utf8" });
      expect(run.stdout.trim(), run.stderr).toBe(String(day.length));
    }
  });

  it("may be left half read", async () => {
    for (const content of [dayText, gzipSync(dayText), zstdCompressSync(dayText)]) {
      for await (const batch of readFeed(fileOf(content))) {
        expect(batch[0]!.line).toBe(1);
        break;
      }
    }
  });

  it("says how far it is read", async () => {
    const feed = readFeed(fileOf(gzipSync(dayText)));
    expect(feed.bytesTotal).toBeNull();
    let before = 0;
    for await (const _ of feed) {
      expect(feed.bytesRead).toBeGreaterThanOrEqual(before);
      before = feed.bytesRead;
    }
    expect(feed.bytesRead).toBe(feed.bytesTotal);
    expect([feed.lines, feed.blankLines]).toEqual([day.length, 0]);
  });
});

describe("a line that cannot be used", () => {
  it("is rejected with its number, and the rest goes on", async () => {
    const bad = [
      "no json",
      "[1]",
      "null",
      '{"topic":1,"value":{}}',
      '{"topic":"consists","key":"a"}',
      '{"topic":"consists","key":7,"value":{}}',
      '{"topic":"weather","key":"a","value":{}}',
    ];
    const lines = await linesOf([day[0], ...bad, day[1]].join("\n"));
    expect(reasonsOf(lines)).toEqual([
      "used",
      "FEED-002 not-json",
      ...Array(5).fill("FEED-004 not-an-envelope"),
      "FEED-005 unknown-topic",
      "used",
    ]);
    expect(lines.map((line) => decodeLine(line).rejected?.offset ?? line.line)).toEqual([1, 2, 3, 4, 5, 6, 7, 8, 9]);
    expect(decodeLine(lines[1]!).rejected!.raw).toBe("no json");
    // Of a topic that nobody reads, nothing else keeps the key.
    expect(decodeLine(lines[7]!).rejected!.raw).toBe('{"topic":"weather","key":"a","value":{}}');
  });

  it("that is no UTF-8 does not touch its neighbours", async () => {
    const bytes = Buffer.concat([Buffer.from(day[0] + "\n"), Buffer.from([0x7b, 0xc3, 0x28, 10]), Buffer.from(day[1] + "\n")]);
    const lines = await linesOf(bytes);
    expect(reasonsOf(lines)).toEqual(["used", "FEED-001 not-utf8", "used"]);
    expect(Buffer.from(decodeLine(lines[1]!).rejected!.raw, "base64")).toEqual(Buffer.from([0x7b, 0xc3, 0x28]));
  });

  it.each([LINE_BYTES + 1, 3 * LINE_BYTES, 9 * LINE_BYTES])("of %i bytes is rejected once, and its neighbours are used", async (length) => {
    for (const tail of ["\n" + day[1], ""]) {
      const lines = await linesOf(day[0] + "\n" + "x".repeat(length) + tail);
      expect(reasonsOf(lines)).toEqual(["used", "FEED-003 too-large", ...(tail === "" ? [] : ["used"])]);
      expect(lines.map((line) => line.line)).toEqual([1, 2, 3].slice(0, lines.length));
      const rejected = decodeLine(lines[1]!).rejected!;
      expect(rejected.raw.length).toBe(RAW_BYTES);
      expect(rejected.rawBytes).toBeGreaterThan(LINE_BYTES);
    }
  });

  it("whose record is over 256 KiB is rejected, though a line may be longer than that", async () => {
    const padded = (n: number) => envelope("axle-readings", { ...begun, pad: "x".repeat(n) });
    const [small, great] = await linesOf(padded(RECORD_BYTES - 1000) + "\n" + padded(RECORD_BYTES));
    expect(decodeLine(small!)).toEqual({ record: begun, unknownFields: 1 });
    expect(decodeLine(great!).rejected!.reason).toBe("FEED-003 too-large");
  });
});

describe("a feed that breaks off", () => {
  it.each([
    ["gzip", gzipSync(dayText)],
    ["zstd", zstdCompressSync(dayText)],
  ])("%s gives the lines before the break, then says where", async (_name, packed) => {
    for (const cut of [packed.length - 1, packed.length >> 1, 30]) {
      const { lines, error } = await readAll(fileOf(packed.subarray(0, cut)));
      expect(error?.code).toBe("FEED-104 cut-short");
      expect([error?.byte, error?.line]).toEqual([cut, lines.length]);
      expect(lines.map((line) => line.line)).toEqual(lines.map((_, i) => i + 1));
      expect(reasonsOf(lines).every((reason) => reason === "used")).toBe(true);
      if (cut === packed.length - 1) expect(lines.length).toBeGreaterThan(day.length / 2);
    }
  });

  it.each([
    ["gzip", gzipSync(dayText)],
    ["zstd", zstdCompressSync(dayText, { params: { [constants.ZSTD_c_checksumFlag]: 1 } })],
  ])("%s with damage inside says corrupt", async (_name, packed) => {
    const damaged = Buffer.from(packed);
    damaged.fill(0xa5, packed.length >> 1, (packed.length >> 1) + 64);
    const { error } = await readAll(fileOf(damaged));
    expect(error?.code).toBe("FEED-105 corrupt");
    expect(error?.advice).not.toBe("");
  });

  it("with something else behind its end says corrupt, never nothing", async () => {
    for (const packed of [gzipSync(dayText), zstdCompressSync(dayText)]) {
      const { error } = await readAll(fileOf(Buffer.concat([packed, Buffer.from("something else")])));
      expect(error?.code).toBe("FEED-105 corrupt");
    }
  });

  it("that is not there, or is a folder, says so", async () => {
    expect((await readAll(join(folder, "nothing"))).error?.code).toBe("FEED-101 not-found");
    const error = (await readAll(folder)).error;
    expect(error?.code).toBe("FEED-103 not-a-file");
    expect(error?.message).toContain(folder);
  });
});
