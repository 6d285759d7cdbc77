import { describe, expect, test } from "vitest";
import { notSeeing } from "../../src/desk/views/not-seeing.ts";
import type { SiteCondition } from "../../src/site/condition.ts";

function condition(over: Partial<SiteCondition>): SiteCondition {
  return {
    id: "C-1",
    version: 1,
    time: "2026-03-04T12:00:00Z",
    site: "garrow-160",
    device: "",
    kind: "dead",
    state: "raised",
    raisedAt: "2026-03-04T11:00:00Z",
    evidence: [],
    words: "",
    advice: "",
    ...over,
  };
}

const raisedMs = Date.parse("2026-03-04T11:00:00Z");

describe("beside a train stand the sites that do not see it", () => {
  test("dead, cut off, silent and out of service, of the sites asked for", () => {
    const open = [
      condition({}),
      condition({ kind: "out-of-service", site: "orrin-128", device: "1" }),
      condition({ kind: "dead", site: "alder-14" }),
    ];
    expect(notSeeing(open, ["garrow-160", "orrin-128"])).toEqual([
      { site: "garrow-160", kind: "dead", device: "", raisedMs },
      { site: "orrin-128", kind: "out-of-service", device: "1", raisedMs },
    ]);
  });

  test("a connection lost counts for every site behind it", () => {
    const cut = condition({ kind: "connection", sites: ["garrow-160", "orrin-128", "alder-14"] });
    expect(notSeeing([cut], ["orrin-128", "alder-14", "hollin-178"]).map((one) => one.site)).toEqual(["orrin-128", "alder-14"]);
  });

  test("not what is over, nor what only reads badly", () => {
    expect(notSeeing([condition({ state: "cleared" }), condition({ kind: "drift" })], ["garrow-160"])).toEqual([]);
  });
});
