import { describe, expect, it } from "vitest";
import { decode } from "../../src/feed/decode.ts";
import { decodeLine } from "../../src/feed/feed-line.ts";
import { LineCutter } from "../../src/feed/line-cutter.ts";
import { Damage } from "./mutations.ts";
import { envelope, samples } from "./samples.ts";

/** A million damaged records, in parts so that each part says where it failed. */
const PARTS = 10;
const BY_BYTES = 60_000;
const BY_STRUCTURE = 40_000;
const LINES_A_BATCH = 500;

const lines = samples.map(([topic, record]) => Buffer.from(envelope(topic, record) + "\n"));

describe("a million damaged records", () => {
  it.each(Array.from({ length: PARTS }, (_, part) => part))("part %i: every line is used or rejected, and the counts add up", (part) => {
    const damage = new Damage(1000 + part);
    const cutter = new LineCutter();
    let handed = 0;
    let used = 0;
    let rejected = 0;
    const judge = (batch: ReturnType<LineCutter["cut"]>) => {
      for (const line of batch) {
        handed++;
        const decoded = decodeLine(line);
        if (decoded.record !== undefined) used++;
        else if (decoded.rejected !== undefined) rejected++;
      }
    };
    for (let made = 0; made < BY_BYTES; made += LINES_A_BATCH) {
      const batch: Buffer[] = [];
      for (let i = 0; i < LINES_A_BATCH; i++) batch.push(damage.bytes(lines[damage.below(lines.length)]!));
      judge(cutter.cut(Buffer.concat(batch)));
    }
    judge(cutter.end());
    expect(used + rejected).toBe(handed);
    expect(handed + cutter.blank).toBe(cutter.lines);
    expect(rejected).toBeGreaterThan(handed / 2);
    expect(used).toBeGreaterThan(100);
  });

  it.each(Array.from({ length: PARTS }, (_, part) => part))("part %i: every parsed record is used or rejected with a code", (part) => {
    const damage = new Damage(2000 + part);
    let used = 0;
    let rejected = 0;
    for (let i = 0; i < BY_STRUCTURE; i++) {
      const [topic, record] = samples[damage.below(samples.length)]!;
      const decoded = decode(topic, damage.structure(record), { topic, partition: 0, offset: i });
      if (decoded.rejected === undefined) used++;
      else if (/^FEED-\d{3} /.test(decoded.rejected.reason)) rejected++;
    }
    expect(used + rejected).toBe(BY_STRUCTURE);
    expect(rejected).toBeGreaterThan(BY_STRUCTURE / 4);
  });
});
