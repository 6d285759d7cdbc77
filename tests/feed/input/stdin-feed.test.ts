import { spawn } from "node:child_process";
import { once } from "node:events";
import { zstdCompressSync } from "node:zlib";
import { describe, expect, it } from "vitest";
import { begun, envelope } from "../samples.ts";

/** A process that takes its standard input into a log in memory, and prints what is in it at the end. */
const PROGRAM = `
import { startStdinFeed } from ${JSON.stringify(new URL("../../../src/feed/input/stdin-feed.ts", import.meta.url).href)};
import { feedMetrics, Taken } from ${JSON.stringify(new URL("./taken.ts", import.meta.url).href)};
import { silentLogger } from ${JSON.stringify(new URL("../../../src/telemetry/logger.ts", import.meta.url).href)};
let lost = Number(process.env.LOST ?? 0);
const taken = new Taken({ fate: () => (lost-- > 0 ? "undone-unanswered" : "answered") });
const feed = startStdinFeed({ log: taken.log, logger: silentLogger(), metrics: feedMetrics() });
if (process.env.CLOSE) setTimeout(() => feed.close(), 50);
const fates = await feed.ended;
console.log(JSON.stringify({ fates: fates instanceof Error ? fates.message : fates, passes: taken.values("axle-readings").map(({ pass }) => Number(pass)) }));
`;

function start(environment: Record<string, string> = {}) {
  const child = spawn(process.execPath, ["--input-type=module-typescript", "--no-warnings", "-e", PROGRAM], {
    stdio: ["pipe", "pipe", "inherit"],
    env: { ...process.env, ...environment },
  });
  let out = "";
  child.stdout.setEncoding("utf8").on("data", (text: string) => {
    out += text;
  });
  const result = async () => {
    await once(child, "close");
    return JSON.parse(out) as { fates: unknown; passes: number[] };
  };
  return { child, result };
}

const lines = (n: number) => Array.from({ length: n }, (_, i) => `${envelope("axle-readings", { ...begun, pass: String(i) })}\n`).join("");

describe("standard input", () => {
  it.each([
    ["plain", (text: string) => Buffer.from(text)],
    ["zstd", (text: string) => zstdCompressSync(text)],
  ])("is a feed, %s", async (_packing, pack) => {
    const { child, result } = start();
    child.stdin.end(pack(`${lines(5_000)}nonsense\n`));
    const { fates, passes } = await result();
    expect(fates).toEqual({ accepted: 5_000, repeated: 0, refused: 1, own: 0 });
    expect(passes).toEqual(Array.from({ length: 5_000 }, (_, i) => i));
  });

  it("is offered again when nobody can tell what became of it: whoever wrote it cannot send it a second time", async () => {
    const { child, result } = start({ LOST: "2" });
    child.stdin.end(lines(5_000));
    const { fates, passes } = await result();
    expect(fates).toEqual({ accepted: 5_000, repeated: 0, refused: 0, own: 0 });
    expect(passes).toEqual(Array.from({ length: 5_000 }, (_, i) => i));
  });

  it("that nobody ends does not keep the process from ending", async () => {
    const { child, result } = start({ CLOSE: "1" });
    child.stdin.write(lines(3));
    expect((await result()).fates).toMatchObject({ refused: 0 });
    child.stdin.destroy();
  });
});
