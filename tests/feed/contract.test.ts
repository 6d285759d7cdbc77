import { readdirSync, readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { asyncApi, contractFiles } from "../../src/feed/contract.ts";

const deploy = new URL("../../deploy/", import.meta.url);

describe("the published contract", () => {
  it("is the one that the schemas generate (remade by: node src/feed/contract.ts)", () => {
    for (const [name, text] of contractFiles()) expect(readFileSync(new URL(name, deploy), "utf8"), name).toBe(text);
  });

  it("has no document of a record that is gone", () => {
    const made = [...contractFiles().keys()].filter((name) => name.startsWith("schema/")).map((name) => name.slice(7));
    expect(readdirSync(new URL("schema/", deploy)).sort()).toEqual(made.sort());
  });

  it("points nowhere that it does not hold itself", () => {
    const document = asyncApi();
    const pointers = [...JSON.stringify(document).matchAll(/"\$ref":"([^"]+)"/g)].map((match) => match[1]!);
    expect(pointers.length).toBeGreaterThan(20);
    for (const pointer of pointers) {
      let here: unknown = document;
      for (const step of pointer.slice(2).split("/")) here = (here as Record<string, unknown>)[step];
      expect(here, pointer).toBeDefined();
    }
  });
});
