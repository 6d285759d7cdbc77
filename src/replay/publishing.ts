import type { Sink } from "../flow/sink.ts";
import type { Railroad } from "../line/railroad.ts";
import { recordOfPass } from "../pass/pass-record.ts";
import type { DayAccount } from "./account.ts";
import type { Narrow } from "./narrow.ts";
import type { RecordFile } from "./outputs.ts";
import type { Published } from "./published.ts";

/** Behind every line of a feed. */
const AFTER_ALL_LINES = Number.MAX_SAFE_INTEGER;

export interface PublishingOptions {
  railroad: Railroad;
  narrow: Narrow;
  /** Whether records are wanted for the files. */
  withFiles: boolean;
}

/** Where the folds of a share put what they publish: all of it into the account, what was asked for into the files. */
export class Publishing {
  readonly sink: Sink;
  /** The line that is folded. */
  line = 0;
  readonly #options: PublishingOptions;
  readonly #corridors: ReadonlyMap<string, number>;
  #published: Published[] = [];

  constructor(options: PublishingOptions, account: DayAccount) {
    const { narrow, railroad } = options;
    this.#options = options;
    this.#corridors = new Map(railroad.corridors.map(({ id }, at) => [id, at]));
    const ownerOf = (site: string) => railroad.corridorsOf(site)[0] ?? "";
    this.sink = {
      pass: (pass) => {
        account.addPass(pass);
        if (narrow.pass(pass, pass.train, null)) this.#put("passes", ownerOf(pass.site), () => recordOfPass(pass));
      },
      warning: (warning) => {
        account.addWarning(warning);
        if (narrow.warning(warning)) this.#put("warnings", warning.corridor, () => warning);
      },
      condition: (condition) => {
        account.addCondition(condition);
        if (narrow.condition(condition)) this.#put("siteConditions", ownerOf(condition.site), () => condition);
      },
      calibration: () => {},
      rejected: (rejected) => {
        const json = options.withFiles && narrow.rejected(rejected) ? JSON.stringify(rejected) : null;
        this.#published.push({ line: this.line, corridor: 0, file: "rejected", json, rejected });
      },
      settled: (journey, leg, doubt, corridor) => {
        account.addJoin(journey, leg, corridor);
        if (doubt !== null) account.addDoubt(doubt, corridor);
      },
    };
  }

  /** What was published since it was last asked. */
  take(): Published[] {
    const published = this.#published;
    this.#published = [];
    return published;
  }

  /** From here on everything comes of the end of the feeds. */
  end(): void {
    this.line = AFTER_ALL_LINES;
  }

  #put(file: RecordFile, corridor: string, record: () => object): void {
    if (!this.#options.withFiles) return;
    const place = this.#corridors.get(corridor) ?? this.#corridors.size;
    this.#published.push({ line: this.line, corridor: place, file, json: JSON.stringify(record()), rejected: null });
  }
}
