import { describe, expect, test } from "vitest";
import { Progress, progressLine, type Standing } from "../../src/replay/progress.ts";

const STANDING: Standing = { bytes: 50, totalBytes: 200, axles: 4_000_000, eventMs: Date.UTC(2026, 2, 4, 5, 6), warnings: 3 };

function stream(isTTY: boolean, columns?: number) {
  const written: string[] = [];
  return { written, isTTY, columns, write: (text: string) => written.push(text) };
}

describe("progress", () => {
  test("a line says the share, the speed, the event time reached and the warnings so far", () => {
    expect(progressLine(STANDING, 2_000, false)).toBe(" 25 %  2,000,000 axles/s  2026-03-04 05:06 UTC  3 warnings");
    expect(progressLine(STANDING, 2_000, true)).toMatch(/^██████░{18} {2}25 %/);
  });

  test("standard input has no size: what was read is said instead, and before the first pass no time", () => {
    expect(progressLine({ ...STANDING, totalBytes: null, bytes: 12e6, eventMs: Number.NaN }, 0, true)).toBe("12 MB  0 axles/s  3 warnings");
  });

  test("on a terminal one line is redrawn, not more often than ten times a second, and never wraps", () => {
    const out = stream(true, 40);
    let ms = 0;
    const progress = new Progress(out, () => ms);
    for (; ms < 1_000; ms += 10) progress.show(STANDING);
    expect(out.written.length).toBe(10);
    for (const text of out.written) {
      expect(text.startsWith("\r\u001b[2K")).toBe(true);
      expect(text.length).toBeLessThanOrEqual(5 + 39);
    }
    progress.finish(STANDING);
    expect(out.written.at(-1)).toBe("\n");
  });

  test("elsewhere a line every five seconds and one at the end, without control characters", () => {
    const out = stream(false);
    let ms = 0;
    const progress = new Progress(out, () => ms);
    for (; ms < 12_000; ms += 100) progress.show(STANDING);
    progress.finish(STANDING);
    expect(out.written.length).toBe(3);
    for (const text of out.written) expect(text).toMatch(/^\P{Cc}+\n$/u);
  });

  test("quiet is quiet", () => {
    const out = stream(true);
    const progress = new Progress(out, () => 0, true);
    progress.show(STANDING);
    progress.clear();
    progress.finish(STANDING);
    expect(out.written).toEqual([]);
  });

  test("the bar is taken off before something else is written", () => {
    const out = stream(true);
    const progress = new Progress(out, () => 0);
    progress.clear();
    progress.show(STANDING);
    progress.clear();
    expect(out.written.at(-1)).toBe("\r\u001b[2K");
    expect(out.written.length).toBe(2);
  });
});
