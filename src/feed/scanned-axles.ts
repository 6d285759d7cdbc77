import { AxleBlock } from "./axle-block.ts";
import type { Axles, RailColumns } from "./record.ts";

/**
 * A record of axles as it was read from the bytes: a block of columns. Whoever knows the block reads it; to everybody else
 * it is the record itself, its arrays made when they are asked for. The scanner fills the same one for every line, so it
 * is good until the next line only; `kept` lasts.
 */
export class ScannedAxles implements Axles {
  readonly type = "axles";
  site = "";
  track = "";
  pass = "";
  readonly block: AxleBlock = new AxleBlock();

  /** A record of its own. */
  kept(): Axles {
    return this.block.record(this.site, this.track, this.pass);
  }

  get first(): number {
    return this.block.first;
  }

  get ms(): number[] {
    return this.kept().ms;
  }

  get gap(): (number | null)[] {
    return this.kept().gap;
  }

  get speed(): (number | null)[] | undefined {
    return this.kept().speed;
  }

  get left(): RailColumns {
    return this.kept().left;
  }

  get right(): RailColumns {
    return this.kept().right;
  }

  get tag(): (string | null)[] | undefined {
    return this.kept().tag;
  }

  toJSON(): Axles {
    return this.kept();
  }
}
