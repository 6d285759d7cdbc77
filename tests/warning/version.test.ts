import fc from "fast-check";
import { expect, test } from "vitest";
import { sameJson } from "../../src/warning/version.ts";

/** What a value is on the wire, whatever the order of its keys: the plain way to compare. */
function written(value: unknown): string {
  return JSON.stringify(value, (_, inner: unknown) =>
    typeof inner === "object" && inner !== null && !Array.isArray(inner)
      ? Object.fromEntries(Object.entries(inner).sort(([a], [b]) => (a < b ? -1 : 1)))
      : inner,
  );
}

const leaf = fc.oneof(
  fc.constantFrom(undefined, null, true, false, Number.NaN, Number.POSITIVE_INFINITY, 0, -0, 1, "", "a"),
  fc.double({ noNaN: false }),
);
const { value } = fc.letrec((tie) => ({
  value: fc.oneof({ depthSize: "small" }, leaf, fc.array(tie("value"), { maxLength: 3 }), tie("record")),
  record: fc.dictionary(fc.constantFrom("a", "b", "c", "toString"), tie("value"), { maxKeys: 3, noNullPrototype: true }),
}));

test("two values are the same exactly when what is written of them is", () => {
  fc.assert(
    fc.property(value, value, (a, b) => {
      expect(sameJson({ a }, { a: b })).toBe(written({ a }) === written({ a: b }));
    }),
    { numRuns: 3_000 },
  );
});

test("a value read back is the same, its keys in any order; one field more or changed is not", () => {
  const said = { id: "W", chances: { beforeNextSite: 0.3, gone: undefined }, reasons: ["one", Number.NaN], crossing: null };
  const readBack = { crossing: null, reasons: ["one", null], chances: { beforeNextSite: 0.3 }, id: "W" };
  expect(sameJson(said, readBack)).toBe(true);
  expect(sameJson(said, { ...readBack, more: 1 })).toBe(false);
  expect(sameJson({ ...said, more: 1 }, readBack)).toBe(false);
  expect(sameJson(said, { ...readBack, reasons: ["one"] })).toBe(false);
  expect(sameJson(said, { ...readBack, chances: { beforeNextSite: 0.31 } })).toBe(false);
});
