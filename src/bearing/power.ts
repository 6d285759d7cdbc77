/** x to a power, by roots where there are any: several times quicker than Math.pow. */
export function raise(x: number, power: number): number {
  if (power === 1) return x;
  if (power === 1.5) return x * Math.sqrt(x);
  if (power === 0.5) return Math.sqrt(x);
  if (power === 0.125) return Math.sqrt(Math.sqrt(Math.sqrt(x)));
  if (power === 2) return x * x;
  if (power === 2.5) return x * x * Math.sqrt(x);
  return x ** power;
}
