import type { z } from "zod";

/** The part of a schema's definition that says what is inside it. */
interface Definition {
  type: string;
  shape?: Record<string, z.core.$ZodType>;
  element?: z.core.$ZodType;
  items?: z.core.$ZodType[];
  valueType?: z.core.$ZodType;
  innerType?: z.core.$ZodType;
  in?: z.core.$ZodType;
  options?: z.core.$ZodType[];
  getter?: () => z.core.$ZodType;
}

/** Keys the schema knows at a path: for "did you mean". Of a union, the branches that the value's discriminators fit. */
export function knownKeys(schema: z.core.$ZodType, path: readonly PropertyKey[], raw: unknown): string[] {
  let schemas = unwrap(schema);
  let value = raw;
  for (const step of path) {
    schemas = schemas.flatMap((each) => inside(each, step)).flatMap(unwrap);
    value = typeof value === "object" && value !== null ? (value as Record<PropertyKey, unknown>)[step] : undefined;
  }
  const keys = new Set<string>();
  for (const each of schemas) {
    const shape = definition(each).shape;
    if (shape !== undefined && fits(shape, value)) for (const key of Object.keys(shape)) keys.add(key);
  }
  return [...keys];
}

/** Through optional, default, nullable, pipes and unions, down to schemas that have something inside. */
function unwrap(schema: z.core.$ZodType): z.core.$ZodType[] {
  const def = definition(schema);
  const inner = def.innerType ?? def.in ?? def.getter?.();
  if (inner !== undefined) return unwrap(inner);
  return def.options === undefined ? [schema] : def.options.flatMap(unwrap);
}

function inside(schema: z.core.$ZodType, step: PropertyKey): z.core.$ZodType[] {
  const def = definition(schema);
  const child = def.shape?.[String(step)] ?? def.element ?? (typeof step === "number" ? def.items?.[step] : undefined) ?? def.valueType;
  return child === undefined ? [] : [child];
}

/** A branch whose literal key (a discriminator) says something else is not meant. */
function fits(shape: Record<string, z.core.$ZodType>, value: unknown): boolean {
  if (typeof value !== "object" || value === null) return true;
  for (const [key, each] of Object.entries(shape)) {
    const values = each._zod.def.type === "literal" ? each._zod.values : undefined;
    if (values !== undefined && Object.hasOwn(value, key) && !values.has((value as Record<string, never>)[key]!)) return false;
  }
  return true;
}

function definition(schema: z.core.$ZodType): Definition {
  return schema._zod.def as unknown as Definition;
}
