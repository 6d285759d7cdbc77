import { Counter, Gauge, type Registry } from "prom-client";
import type { Metric } from "./metric-table.ts";

/** Children a metric may have. Labels are bounded by what is configured; this bounds what a mistake could do. */
export const MOST_CHILDREN = 4_096;
/** Label value of the one child that takes everything beyond `MOST_CHILDREN`. */
const BEYOND = "beyond-limit";

/**
 * One number of one labelled metric. Counting is an addition to a field: prom-client's own children look their labels up
 * again at every call, so metrics are read from the cells when they are scraped, and only then.
 */
export class Cell {
  /** NaN: nothing to tell yet; the child is then left out of a scrape. */
  value: number;

  constructor(value: number) {
    this.value = value;
  }

  add(n = 1): void {
    this.value += n;
  }

  set(value: number): void {
    this.value = value;
  }

  /** For times that only go forward. */
  raise(value: number): void {
    if (!(this.value >= value)) this.value = value;
  }
}

type Labels = Record<string, string>;

/** A labelled metric with its cells. Counters start at 0, gauges at nothing. */
export class Family {
  readonly #metric: Metric;
  readonly #cells = new Map<string, { labels: Labels; cell: Cell }>();

  /** `told` turns a cell's number into the metric's unit when scraped. */
  constructor(registry: Registry, metric: Metric, told: (value: number) => number = (value) => value) {
    this.#metric = metric;
    const settings = { name: metric.name, help: metric.help, labelNames: [...metric.labels], registers: [registry] };
    const values = () => [...this.#cells.values()].filter(({ cell }) => !Number.isNaN(cell.value));
    if (metric.kind === "counter") {
      new Counter({
        ...settings,
        collect() {
          this.reset();
          for (const { labels, cell } of values()) this.inc(labels, told(cell.value));
        },
      });
    } else {
      new Gauge({
        ...settings,
        collect() {
          this.reset();
          // Without labels, reset leaves a 0 that nobody has said.
          if (metric.labels.length === 0) this.remove({});
          for (const { labels, cell } of values()) this.set(labels, told(cell.value));
        },
      });
    }
  }

  /** The cell of these label values, in the order of the metric's labels. To be kept by whoever counts. */
  cell(...values: string[]): Cell {
    const key = values.join("\u0000");
    const known = this.#cells.get(key);
    if (known !== undefined) return known.cell;
    if (values.length !== this.#metric.labels.length) {
      throw new TypeError(`${this.#metric.name} has the labels ${this.#metric.labels.join(", ")}, got ${values.length} values`);
    }
    if (this.#cells.size >= MOST_CHILDREN && values[0] !== BEYOND) return this.cell(...values.map(() => BEYOND));
    const cell = new Cell(this.#metric.kind === "counter" ? 0 : Number.NaN);
    const labels = Object.fromEntries(this.#metric.labels.map((label, at) => [label, values[at] ?? ""]));
    this.#cells.set(key, { labels, cell });
    return cell;
  }

  /** Tells a cell of another family here as well: a time, and its age. */
  share(cell: Cell, ...values: string[]): void {
    const labels = Object.fromEntries(this.#metric.labels.map((label, at) => [label, values[at] ?? ""]));
    if (this.#cells.size < MOST_CHILDREN) this.#cells.set(values.join("\u0000"), { labels, cell });
  }

  /** Not told any more, until asked for again. */
  remove(...values: string[]): void {
    this.#cells.delete(values.join("\u0000"));
  }

  clear(): void {
    this.#cells.clear();
  }
}
