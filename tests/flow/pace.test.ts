import { describe, expect, it } from "vitest";
import { AHEAD_MS, Pace } from "../../src/flow/pace.ts";

describe("partitions read side by side", () => {
  it("wait for the one furthest behind, and go on when it has come near", () => {
    const pace = new Pace();
    const gone: string[] = [];
    pace.at("slow", 0);
    pace.at("fast", AHEAD_MS + 1);
    expect(pace.limit("fast")).toBe(AHEAD_MS);
    expect(pace.limit("slow")).toBeGreaterThan(AHEAD_MS);
    pace.wait("fast", AHEAD_MS + 1, () => gone.push("fast"));
    expect(gone).toEqual([]);
    pace.at("slow", 2);
    expect(gone).toEqual(["fast"]);
  });

  it("wait for nobody who has read everything, or is read no more", () => {
    const pace = new Pace();
    let went = 0;
    pace.at("idle", 0);
    pace.wait("fast", 10 * AHEAD_MS, () => went++);
    pace.rest("idle");
    expect(went).toBe(1);
    expect(pace.limit("fast")).toBe(Number.POSITIVE_INFINITY);
  });

  it("let only those go that are near enough, and nobody who has left", () => {
    const pace = new Pace();
    const gone: string[] = [];
    pace.at("slow", 0);
    pace.wait("far", 3 * AHEAD_MS, () => gone.push("far"));
    pace.wait("left", 2 * AHEAD_MS, () => gone.push("left"));
    pace.wait("near", 2 * AHEAD_MS, () => gone.push("near"));
    pace.rest("left");
    pace.at("slow", AHEAD_MS);
    expect(gone).toEqual(["near"]);
  });
});
