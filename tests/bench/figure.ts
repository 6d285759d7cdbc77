/** One measured figure: ours against a base in the same run, so that the machine drops out. */
export interface BenchFigure {
  name: string;
  ours: number;
  base: number;
  /** ours / base. */
  ratio: number;
  /** Of `ours` and `base`. */
  unit: string;
  /** What was measured against what. */
  note: string;
}
