import type { Row } from "../board/row.ts";
import { degrees, finely, type Unit } from "./units.ts";

/** Which limit a rise is held against: the bearing's own, or the one between the two ends of its axle where that was reached. */
export function limitWords({ axleDifference, limitF }: Pick<Row, "axleDifference" | "limitF">, unit: Unit): string {
  return axleDifference === null ? `limit ${degrees(limitF, unit)}` : differenceWords(axleDifference, unit);
}

/** "120.9 °F over the other end of its axle, limit 115 °F" */
export function differenceWords({ overF, limitF }: NonNullable<Row["axleDifference"]>, unit: Unit): string {
  return `${finely(overF, unit)} °${unit} over the other end of its axle, limit ${degrees(limitF, unit)}`;
}
