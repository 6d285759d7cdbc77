/** Temperatures as a person chose to read them. All here are differences (above ambient, over the side): no 32 is added. */
export type Unit = "F" | "C";

const C_PER_F = 5 / 9;

export function inUnit(differenceF: number, unit: Unit): number {
  return unit === "F" ? differenceF : differenceF * C_PER_F;
}

/** A reading in whole degrees, cut and not rounded: what is under the limit must never read as the limit. */
export function degrees(differenceF: number | null, unit: Unit): string {
  if (differenceF === null || !Number.isFinite(differenceF)) return "not measured";
  return `${signed(Math.floor(inUnit(differenceF, unit) + 1e-6), 0)} °${unit}`;
}

/** With a tenth, for tables. */
export function finely(differenceF: number | null, unit: Unit): string {
  if (differenceF === null || !Number.isFinite(differenceF)) return "–";
  return signed(Math.floor(inUnit(differenceF, unit) * 10 + 1e-6) / 10, 1);
}

export function perMile(slopeF: number | null, unit: Unit): string {
  if (slopeF === null || !Number.isFinite(slopeF)) return "slope not known";
  const slope = inUnit(slopeF, unit);
  const text = signed(slope, 1);
  // No sign where rounding left nothing.
  return `${slope > 0 && Number(text) !== 0 ? "+" : ""}${text} °${unit}/mi`;
}

/** A temperature, or a range of two with the unit behind the second only: "60-170 °F", "120 to 140 °F". */
const TEMPERATURE = /(?:(\d+(?:\.\d+)?)([-–]| to ))?([−-]?\d+(?:\.\d+)?) °F/g;

/** Prose about a bearing with its temperatures as the person reads them: all of them are differences, and cut like `degrees`. */
export function temperaturesIn(prose: string, unit: Unit): string {
  if (unit === "F") return prose;
  const told = (figure: string): string => {
    const value = inUnit(Number(figure.replace("−", "-")), unit);
    return signed(Math.floor(value * 10 + 1e-6) / 10, 1);
  };
  return prose.replace(TEMPERATURE, (_, from: string | undefined, between: string | undefined, figure: string) => {
    return `${from === undefined ? "" : `${told(from)}${between}`}${told(figure)} °${unit}`;
  });
}

export function miles(value: number): string {
  const far = Math.abs(value) >= 20 ? 0 : 1;
  return `${signed(value, far)} mi`;
}

/** A true minus sign, and no minus zero. */
export function signed(value: number, decimals: number): string {
  const text = Math.abs(value).toFixed(decimals);
  return value < 0 && Number(text) !== 0 ? `−${text}` : text;
}

export function chance(value: number): string {
  if (value > 0 && value < 0.01) return "under 1 %";
  if (value < 1 && value > 0.99) return "over 99 %";
  return `${Math.round(value * 100)} %`;
}
