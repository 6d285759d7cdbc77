import type { Integrity } from "../feed/record.ts";
import type { Source } from "./agenda.ts";
import type { FeedText } from "./feed-text.ts";
import { gapGrid, type Measured, type PassPlan } from "./measure.ts";
import { HUNDREDTHS, type NumberText, TENTHS, WHOLES } from "./number-text.ts";
import type { Random } from "./random.ts";
import type { Wayside } from "./wayside.ts";
import type { World } from "./worlds.ts";

/** The site closes a pass this long after the last axle. */
const SETTLE_MS = 9_000;

export interface PassHead {
  pass: string;
  train: string | null;
  reportedDirection: "rising" | "falling";
  integrity: Integrity[];
  noEnd: boolean;
}

/** Sends one pass record by record, each when its last axle has passed. */
export class PassLines implements Source<FeedText> {
  at: number;
  private readonly wayside: Wayside;
  private readonly head: PassHead;
  private readonly measured: Measured;
  private readonly begunMs: number;
  private readonly key: string;
  private readonly start: string;
  private readonly gapText: NumberText;
  /** Axle records in the order of sending; a record may come late or twice. */
  private readonly records: number[] = [];
  private next = -1;
  /** Nothing of this pass arrives before; moves on with each record. */
  private freeMs: number;

  constructor(wayside: Wayside, plan: PassPlan, head: PassHead, measured: Measured, begunMs: number, world: World, random: Random) {
    this.wayside = wayside;
    this.head = head;
    this.measured = measured;
    this.begunMs = begunMs;
    this.key = `${wayside.site.id}/${plan.track}`;
    this.start = `"site":"${wayside.site.id}","track":"${plan.track}","pass":"${head.pass}"`;
    const steps = gapGrid(wayside.units.gap).steps;
    this.gapText = steps === 1 ? WHOLES : steps === 10 ? TENTHS : HUNDREDTHS;
    this.drawOrder(world, random);
    this.freeMs = wayside.takeLine(plan.track, begunMs, begunMs + this.durationMs());
    this.at = this.arrivalMs(begunMs);
  }

  private drawOrder(world: World, random: Random): void {
    const count = Math.ceil(this.measured.rows / this.wayside.group);
    for (let record = 0; record < count; record++) this.records.push(record);
    for (let swaps = random.count(count * world.swapShare); swaps > 0 && count > 1; swaps--) {
      const at = random.below(count - 1);
      const held = this.records[at] as number;
      this.records[at] = this.records[at + 1] as number;
      this.records[at + 1] = held;
    }
    for (let repeats = random.count(count * world.repeatShare); repeats > 0; repeats--) {
      const at = random.below(count);
      this.records.splice(Math.min(count, at + random.whole(1, 3)), 0, this.records[at] as number);
    }
  }

  step(out: FeedText[]): void {
    const atMs = this.at;
    if (this.next < 0) {
      out.push({ topic: "axle-readings", key: this.key, json: this.begun(), atMs });
    } else if (this.next < this.records.length) {
      out.push({ topic: "axle-readings", key: this.key, json: this.axles(this.records[this.next] as number), atMs });
    } else {
      out.push({ topic: "axle-readings", key: this.key, json: this.ended(), atMs });
    }
    this.next++;
    this.at = this.when();
  }

  private when(): number {
    const { measured, records } = this;
    if (this.next < records.length) {
      const last = Math.min(measured.rows, ((records[this.next] as number) + 1) * this.wayside.group) - 1;
      return this.arrivalMs(this.begunMs + (measured.ms[last] as number));
    }
    if (this.next > records.length || this.head.noEnd) return Number.POSITIVE_INFINITY;
    return this.arrivalMs(this.begunMs + this.durationMs());
  }

  private arrivalMs(timeMs: number): number {
    this.freeMs = Math.max(this.freeMs, this.wayside.dueMs(timeMs));
    return this.freeMs;
  }

  private durationMs(): number {
    return (this.measured.ms[this.measured.rows - 1] ?? 0) + SETTLE_MS;
  }

  private begun(): string {
    const { head, measured } = this;
    const ambient = this.wayside.units.temperature === "C" ? Math.round(((measured.ambientF - 32) * 50) / 9) / 10 : measured.ambientF;
    const train = head.train === null ? "" : `,"train":"${head.train}"`;
    return `{"type":"pass-begun",${this.start},"time":"${this.clock(this.begunMs)}","direction":"${head.reportedDirection}","ambient":${ambient}${train}}`;
  }

  private axles(record: number): string {
    const { measured } = this;
    const from = record * this.wayside.group;
    const to = Math.min(measured.rows, from + this.wayside.group);
    const wheel = measured.wheel;
    const rail = (side: 0 | 1): string => {
      const wheels = wheel === null ? "" : `,"wheel":${TENTHS.column(wheel[side], from, to)}`;
      return `{"bearing":${TENTHS.column(measured.bearing[side], from, to)}${wheels}}`;
    };
    return (
      `{"type":"axles",${this.start},"first":${from + 1},"ms":${WHOLES.column(measured.ms, from, to)},` +
      `"gap":${this.gapText.column(measured.gap, from, to)},"speed":${TENTHS.column(measured.speed, from, to)},` +
      `"left":${rail(0)},"right":${rail(1)}${this.tags(from, to)}}`
    );
  }

  private tags(from: number, to: number): string {
    const tags = this.measured.tags;
    if (tags === null) return "";
    let text = "";
    let any = false;
    for (let row = from; row < to; row++) {
      const tag = tags[row];
      any ||= tag !== undefined && tag !== null;
      text += (row > from ? "," : "") + (tag === undefined || tag === null ? "null" : `"${tag}"`);
    }
    return any ? `,"tag":[${text}]` : "";
  }

  private ended(): string {
    const integrity = JSON.stringify(this.head.integrity);
    const time = this.clock(this.begunMs + this.durationMs());
    return `{"type":"pass-ended",${this.start},"time":"${time}","axles":${this.measured.rows},"integrity":${integrity}}`;
  }

  private clock(timeMs: number): string {
    return new Date(Math.round(this.wayside.clockMs(timeMs))).toISOString();
  }
}
