import type * as z from "zod";
import type { Axles } from "./record.ts";

/** The fields a schema knows, level by level: what the count of unknown ones is taken against. */
export interface Known {
  fields: ReadonlyMap<string, Known | null>;
  /** Every element of a list, or every value of a map keyed by device, has these fields. */
  each: Known | null;
}

/** Reads a schema once, at start. Null where a value holds no fields of its own. */
export function knownFields(schema: z.core.$ZodType): Known | null {
  const def = schema._zod.def as unknown as {
    type: string;
    shape?: Record<string, z.core.$ZodType>;
    innerType?: z.core.$ZodType;
    element?: z.core.$ZodType;
    valueType?: z.core.$ZodType;
  };
  if (def.shape !== undefined) {
    return { fields: new Map(Object.entries(def.shape).map(([name, field]) => [name, knownFields(field)])), each: null };
  }
  if (def.innerType !== undefined) return knownFields(def.innerType);
  const element = def.element ?? def.valueType;
  const each = element === undefined ? null : knownFields(element);
  return each === null ? null : { fields: new Map(), each };
}

/** How many fields of a valid record its schema does not know. */
export function countUnknown(known: Known | null, value: unknown): number {
  if (known === null || typeof value !== "object" || value === null) return 0;
  let unknown = 0;
  for (const [name, field] of Object.entries(value)) {
    if (known.each !== null) unknown += countUnknown(known.each, field);
    else if (known.fields.has(name)) unknown += countUnknown(known.fields.get(name) ?? null, field);
    else unknown++;
  }
  return unknown;
}

/** The same for a valid record of axles, by counting alone: this one is on the way of every axle. */
export function countUnknownOfAxles(record: Axles): number {
  let fields = 0;
  for (const _ in record) fields++;
  for (const _ in record.left) fields++;
  for (const _ in record.right) fields++;
  const known = REQUIRED_OF_AXLES + present(record.speed) + present(record.tag) + present(record.left.wheel) + present(record.right.wheel);
  return fields - known;
}

/** type, site, track, pass, first, ms, gap, left, right, and the bearings of both rails. */
const REQUIRED_OF_AXLES = 11;

function present(column: unknown): 0 | 1 {
  return column === undefined ? 0 : 1;
}
