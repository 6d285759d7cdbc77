/** JSON text of numbers on a grid, from whole numbers of grid steps: a table instead of formatting each. */

/** Stands for null in columns of grid steps. */
export const NOT_MEASURED = -0x7fffffff;

const LOW = -2_000;
const HIGH = 20_000;

export class NumberText {
  private readonly table: string[] = [];
  private readonly perUnit: number;

  /** `perUnit`: grid steps a unit: 1, 10 or 100. */
  constructor(perUnit: number) {
    this.perUnit = perUnit;
    for (let steps = LOW; steps <= HIGH; steps++) this.table.push(String(steps / perUnit));
  }

  of(steps: number): string {
    if (steps >= LOW && steps <= HIGH) return this.table[steps - LOW] as string;
    return steps === NOT_MEASURED ? "null" : String(steps / this.perUnit);
  }

  /** `[a,b,...]` of a part of a column. */
  column(values: Int32Array, from: number, to: number): string {
    let text = "[";
    for (let i = from; i < to; i++) {
      const steps = values[i] as number;
      if (i > from) text += ",";
      text += steps >= LOW && steps <= HIGH ? (this.table[steps - LOW] as string) : this.of(steps);
    }
    return text + "]";
  }
}

export const WHOLES = new NumberText(1);
export const TENTHS = new NumberText(10);
export const HUNDREDTHS = new NumberText(100);
