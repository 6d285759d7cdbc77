import type { Row } from "../board/row.ts";
import type { Line } from "../views/line-shape.ts";

/** Warnings of each train by its journeys, in whatever corridor it was warned of. */
export function warnedByJourney({ rows, warned }: Pick<Line, "rows" | "warned">): Map<string, Row[]> {
  const byId = new Map(rows.map((row) => [row.id, row]));
  const found = new Map<string, Row[]>();
  for (const { id, journeys } of warned) {
    const row = byId.get(id);
    if (row === undefined) continue;
    for (const journey of journeys) found.set(journey, [...(found.get(journey) ?? []), row]);
  }
  for (const [journey, all] of found) found.set(journey, onceABearing(all, journey));
  return found;
}

/** Where two corridors warned of one bearing, the warning of this journey's own corridor, else the one heard last. */
function onceABearing(rows: readonly Row[], journey: string): Row[] {
  const speaksFor = (other: Row, row: Row) => row.same.includes(other.id) && (other.journey === journey || other.leads);
  return rows.filter((row) => row.journey === journey || !rows.some((other) => speaksFor(other, row)));
}
