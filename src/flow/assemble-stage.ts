import { AxlesScanner } from "../feed/axles-scanner.ts";
import { decode } from "../feed/decode.ts";
import type { Rejected } from "../feed/record.ts";
import { type LineBook, ownLineBook } from "../line/line-book.ts";
import type { Railroad } from "../line/railroad.ts";
import type { LogRecord } from "../log/log.ts";
import type { TopicName } from "../log/topics.ts";
import type { Pass } from "../pass/pass.ts";
import { PassText } from "../pass/pass-text.ts";
import { AssembleFold } from "./assemble-fold.ts";
import type { PassesAtHand } from "./passes-at-hand.ts";
import { type Refused, siteOfRejected } from "./refused.ts";
import type { Outcome } from "./sink.ts";
import type { Out, StageFold } from "./stage-fold.ts";
import { bufferOf, outbound } from "./wire.ts";

/** What time is to the folds: when records came, or, where recorded days are fed in, what their own records say. */
export type TimeOfFeed = "arrival" | "feed";

const NOWHERE: Out = { put: () => {} };

/** The fold of a task of `assemble`: bytes in, records for `passes` and `rejected` out. */
export class AssembleStage implements StageFold {
  lastEventMs = Number.NaN;
  lastTickMs = Number.NaN;
  private arrivedMs = Number.NaN;
  private readonly fold: AssembleFold;
  private readonly byArrival: boolean;
  private readonly source: string;
  private readonly lines: LineBook;
  private readonly scanner: AxlesScanner | null;
  private readonly text = new PassText();
  private readonly atHand: PassesAtHand | null;
  private out: Out = NOWHERE;
  /** Being folded. */
  private record: LogRecord | null = null;
  private began: number | null = null;

  /** `atHand`: where a stage of the same process finds the passes that it reads next. */
  constructor(railroad: Railroad, source: { topic: string; partition: number }, time: TimeOfFeed, atHand: PassesAtHand | null = null) {
    this.lines = ownLineBook(railroad);
    this.atHand = atHand;
    this.byArrival = time === "arrival";
    this.source = `${source.topic}/${source.partition}`;
    this.scanner = source.topic === ("axle-readings" satisfies TopicName) ? new AxlesScanner() : null;
    this.fold = new AssembleFold(this.lines, {
      pass: (pass, corridors) => this.pass(pass, corridors),
      forward: (record, corridors) => {
        const id = record.type === "tick" ? `${record.source}@${record.time}` : this.origin();
        const json = JSON.stringify(record);
        const matters = record.type === "desk-action" || record.type === "line";
        for (const corridor of corridors) this.out.put(outbound("passes", corridor, record.type, id, record.time, json), matters);
        if (record.type === "heartbeat") this.out.saw?.(record.site, "heartbeat", Date.parse(record.time), 0);
        if (record.type === "tick") this.lastTickMs = Date.parse(record.time);
        else if (record.type !== "line") this.lastEventMs = Date.parse(record.time);
        return "used";
      },
      rejected: (rejected) => this.reject(rejected),
    });
  }

  step(record: LogRecord, out: Out): Outcome {
    this.out = out;
    this.began ??= record.offset;
    this.arrivedMs = record.arrivedMs;
    this.record = record;
    const outcome = this.foldOne(record);
    // It may hold all that was fetched with it.
    this.record = null;
    return outcome;
  }

  private foldOne(record: LogRecord): Outcome {
    const { topic, partition, offset } = record;
    const arrived = { topic, partition, offset, arrivedMs: this.byArrival ? record.arrivedMs : undefined };
    // Nearly every record is of axles written in the usual way.
    if (this.scanner?.scanValue(bufferOf(record.value)) === true) return this.fold.step(this.scanner.record, arrived);
    const decoded = decode(topic, record.value, { topic, partition, offset });
    if (decoded.rejected !== undefined) {
      this.reject(decoded.rejected);
      return "rejected";
    }
    return this.fold.step(decoded.record, arrived);
  }

  get pacedMs(): number {
    return this.byArrival ? this.arrivedMs : this.lastEventMs;
  }

  refoldFrom(position: number): number {
    return this.fold.refoldFrom(this.source, this.began ?? position);
  }

  /** Of the record being folded, for the ids of what is handed on as it is. */
  private origin(): string {
    const { topic, partition, offset } = this.record!;
    return `${topic}/${partition}@${offset}`;
  }

  private pass(pass: Pass, corridors: readonly string[]): void {
    this.lastEventMs = pass.endedMs;
    this.out.saw?.(pass.site, "pass", pass.endedMs, pass.axles);
    if (corridors.length === 0) return;
    const json = this.text.of(pass);
    this.atHand?.put(pass, json, corridors.length);
    const time = new Date(pass.endedMs).toISOString();
    for (const corridor of corridors) this.out.put(outbound("passes", corridor, "pass", pass.id, time, json), true);
  }

  private reject(rejected: Rejected): void {
    // Whatever is wrong with the record, its key is `<site>` or `<site>/<track>`: it counts against that site.
    const site = this.record?.key?.split("/", 1)[0] ?? "";
    if (this.lines.sites.has(site)) this.out.saw?.(site, "rejected", Number.NaN, 0);
    const time = new Date(Number.isNaN(this.lastEventMs) ? 0 : this.lastEventMs).toISOString();
    this.tellCorridors(rejected, time);
    this.out.put(outbound("rejected" satisfies TopicName, rejected.topic, "rejected", rejected.id, time, rejected), false);
  }

  /** Whoever watches over the site must know that its records are refused. */
  private tellCorridors(rejected: Rejected, time: string): void {
    const site = siteOfRejected(rejected, this.record?.key ?? null, this.lines.sites);
    if (site === null) return;
    const refused: Refused = { type: "refused", site, reason: rejected.reason, time };
    for (const corridor of this.lines.corridorsOf(site))
      this.out.put(outbound("passes", corridor, refused.type, rejected.id, time, refused), false);
  }
}
