import type { Row } from "../board/row.ts";
import { comparePlaces, NEEDS, type Need, needOf, type Place, placeOf } from "../board/urgency.ts";

/** A row, and what it is ordered by, worked out once. */
interface Placed extends Place {
  row: Row;
}

/** Rows in the order of what is left to act on, kept in order change by change: ten thousand are never sorted anew. */
export class OrderedRows {
  private readonly byId = new Map<string, Placed>();
  private readonly places: Placed[] = [];
  private readonly needs: Record<Need, number> = { decide: 0, "in-hand": 0, watch: 0, aside: 0, closed: 0 };
  /** Rises with every change. */
  version = 0;

  /** Takes a row in, in place of an older state of it; false when it is older than what is here. */
  put(row: Row): boolean {
    const known = this.byId.get(row.id);
    if (known !== undefined && (row.version < known.row.version || (row.version === known.row.version && row.actions < known.row.actions)))
      return false;
    if (known !== undefined) {
      this.places.splice(this.indexOf(known), 1);
      this.needs[needOf(known.row)]--;
    }
    const place: Placed = { row, ...placeOf(row) };
    this.byId.set(row.id, place);
    this.places.splice(this.indexOf(place), 0, place);
    this.needs[needOf(row)]++;
    this.version++;
    return true;
  }

  /** Open warnings that other corridors have of the same bearing, the newest reading first: each corridor warns by itself. */
  elsewhere(row: Row): Row[] {
    if (needOf(row) === "closed") return [];
    return row.same
      .flatMap((id) => this.byId.get(id)?.row ?? [])
      .filter((other) => needOf(other) !== "closed")
      .sort((x, y) => y.timeMs - x.timeMs);
  }

  get(id: string): Row | undefined {
    return this.byId.get(id)?.row;
  }

  get size(): number {
    return this.places.length;
  }

  /** How many stand under each need; they stand in the order of NEEDS. */
  counts(): Record<Need, number> {
    return { ...this.needs };
  }

  idAt(index: number): string {
    return this.places[index]?.id ?? "";
  }

  ids(): string[] {
    return this.places.map((one) => one.id);
  }

  clear(): void {
    this.byId.clear();
    this.places.length = 0;
    for (const need of NEEDS) this.needs[need] = 0;
    this.version++;
  }

  /** Where a place is, or belongs. */
  private indexOf(place: Placed): number {
    let low = 0;
    let high = this.places.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (comparePlaces(this.places[middle] as Placed, place) < 0) low = middle + 1;
      else high = middle;
    }
    return low;
  }
}
