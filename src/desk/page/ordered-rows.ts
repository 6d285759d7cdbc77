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
  /** Open warnings of trains by the bearing's place in them: each corridor warns of a bearing by itself. */
  private readonly byBearing = new Map<string, Set<string>>();
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
      this.forgetBearing(known.row);
    }
    const place: Placed = { row, ...placeOf(row) };
    this.byId.set(row.id, place);
    this.places.splice(this.indexOf(place), 0, place);
    this.needs[needOf(row)]++;
    this.keepBearing(row);
    this.version++;
    return true;
  }

  /**
   * Open warnings that other corridors have of what is, as far as a row tells, the same bearing: the same train, vehicle, axle
   * and side, read within half a day. The newest reading first. A train without an id, or one that turned round, is not found.
   */
  elsewhere(row: Row): Row[] {
    const key = bearingOf(row);
    if (key === null || needOf(row) === "closed") return [];
    return [...(this.byBearing.get(key) ?? [])]
      .flatMap((id) => this.byId.get(id)?.row ?? [])
      .filter((other) => other.corridor !== row.corridor && Math.abs(other.timeMs - row.timeMs) <= SAME_RUN_MS)
      .sort((a, b) => b.timeMs - a.timeMs);
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
    this.byBearing.clear();
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

  private keepBearing(row: Row): void {
    const key = needOf(row) === "closed" ? null : bearingOf(row);
    if (key === null) return;
    const ids = this.byBearing.get(key) ?? new Set();
    this.byBearing.set(key, ids.add(row.id));
  }

  private forgetBearing(row: Row): void {
    const key = bearingOf(row);
    const ids = key === null ? undefined : this.byBearing.get(key);
    ids?.delete(row.id);
    if (key !== null && ids?.size === 0) this.byBearing.delete(key);
  }
}

/** A train number runs again the next day: what was read longer apart is another run. Assumption. */
const SAME_RUN_MS = 12 * 3_600_000;

function bearingOf({ train, vehicle, vehicleId, axle, side }: Row): string | null {
  return train === null ? null : `${train} ${vehicleId ?? vehicle ?? ""} ${axle} ${side}`;
}
