import { describe, expect, test } from "vitest";
import { hrefOf, routeOf } from "../../../src/desk/page/route.ts";

describe("an address of the pages", () => {
  test("comes back as it was made, whatever is in the id", () => {
    for (const id of ["W-1", "W/1 %", "J-alder-14/1/0001@20260304T110000000Z"])
      expect(routeOf(hrefOf("warning", id))).toEqual({ page: "warning", id });
  });

  test("cut off in the middle of an escape is no page, and throws nothing", () => {
    expect(routeOf("#/warning/%")).toEqual({ page: "unknown", id: "#/warning/%" });
    expect(routeOf("#/warning/%E0%A4%A")).toEqual({ page: "unknown", id: "#/warning/%E0%A4%A" });
  });

  test("that names no page is not taken for Now", () => {
    expect(routeOf("#/nwo")).toEqual({ page: "unknown", id: "#/nwo" });
    expect(routeOf("#/warning")).toEqual({ page: "unknown", id: "#/warning" });
    expect(routeOf("")).toEqual({ page: "now", id: null });
    expect(routeOf("#/")).toEqual({ page: "now", id: null });
    expect(routeOf("#/sites/garrow-160")).toEqual({ page: "sites", id: "garrow-160" });
  });
});
