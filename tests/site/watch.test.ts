import { describe, expect, it } from "vitest";
import { at, everywhere, fiveSites, iso, kinds, pass, run, SITES, train, watching } from "./watching.ts";

describe("watching the sites", () => {
  it("a site that never sent a heartbeat is not called dead: nobody knows its rhythm", () => {
    const { watch, out } = watching();
    watch.tick(at(20_000));
    expect(kinds(out).filter((one) => one.includes("dead"))).toEqual([]);
  });

  it("a site without a word for two and a half of its own intervals is dead, once, until it is heard again", () => {
    const { watch, out, beat } = watching();
    for (let minute = 0; minute <= 50; minute += 5) beat("birch-29", minute);
    watch.tick(at(62));
    expect(out).toEqual([]);
    watch.tick(at(63));
    watch.tick(at(90));
    beat("birch-29", 95);
    expect(kinds(out)).toEqual(["birch-29 dead raised", "birch-29 dead cleared"]);
    expect(out[1]?.id).toBe(out[0]?.id);
    expect(out[1]?.version).toBe(2);
  });

  it("while time stands still, as when we are behind ourselves, nobody is dead", () => {
    const { watch, out, beat } = watching();
    for (let minute = 0; minute <= 50; minute += 5) beat("birch-29", minute);
    for (let k = 0; k < 100; k++) watch.tick(at(50));
    expect(out).toEqual([]);
  });

  it("a site that is heard by its passes alone lives", () => {
    const { watch, out, beat } = watching();
    for (let minute = 0; minute <= 50; minute += 5) beat("birch-29", minute);
    for (let minute = 55; minute <= 90; minute += 5) {
      watch.heard("birch-29", at(minute), at(minute));
      watch.tick(at(minute));
    }
    expect(kinds(out)).toEqual([]);
  });

  it("sites of a line that fall silent together are one broken connection, and what stays away afterwards is dead by itself", () => {
    const { watch, out, beat } = watching();
    for (let minute = 0; minute <= 60; minute += 5) {
      SITES.forEach((site, k) => {
        beat(site, minute + k);
      });
    }
    for (let minute = 65; minute <= 85; minute++) watch.tick(at(minute));
    expect(kinds(out)).toEqual(["alder-14 connection raised"]);
    expect(out.at(-1)?.sites).toEqual([...SITES]);
    for (const site of SITES.slice(1)) beat(site, 90);
    for (let minute = 91; minute <= 104; minute++) {
      for (const site of SITES.slice(1)) if (minute % 5 === 0) beat(site, minute);
      watch.tick(at(minute));
    }
    expect(kinds(out)).toEqual(["alder-14 connection raised", "alder-14 connection cleared", "alder-14 dead raised"]);
  });

  it("two sites alone are not a broken connection", () => {
    const { watch, out, beat } = watching();
    for (let minute = 0; minute <= 120; minute += 5) {
      SITES.forEach((site, k) => {
        if (k > 1 || minute <= 60) beat(site, minute);
      });
      watch.tick(at(minute));
    }
    expect(kinds(out)).toEqual(["alder-14 dead raised", "birch-29 dead raised"]);
  });

  it("a site with heartbeats that misses two trains in a row is silent, and no longer when it reports one", () => {
    const { watch, out, beat } = watching();
    const without = { ...everywhere() };
    delete without["cedar-41"];
    for (const begins of [0, 120]) {
      beat("cedar-41", begins);
      run(watch, train(begins, without));
      beat("cedar-41", begins + 100);
      watch.tick(at(begins + 100));
      expect(kinds(out)).toEqual(begins === 0 ? [] : ["cedar-41 silent raised"]);
    }
    run(watch, train(240, everywhere()));
    expect(kinds(out)).toEqual(["cedar-41 silent raised", "cedar-41 silent cleared"]);
  });

  it("a pass that belongs to no other train may be the one that seems missed", () => {
    const { watch, out, beat } = watching();
    const without = { ...everywhere() };
    delete without["cedar-41"];
    for (const begins of [0, 120, 240]) {
      run(watch, train(begins + 36, { "cedar-41": {} }));
      run(watch, train(begins, without));
      beat("cedar-41", begins + 100);
      watch.tick(at(begins + 100));
    }
    expect(kinds(out)).toEqual([]);
  });

  it("a site that reports only one of its tracks is told of with the other one", () => {
    const { watch, out, beat } = watching();
    const onTwo = { pass: { track: "2" } };
    for (const begins of [0, 120]) {
      run(watch, train(begins, everywhere()));
      run(watch, train(begins + 20, { "alder-14": onTwo, "cedar-41": onTwo, "dell-55": {} }));
      beat("birch-29", begins + 110);
      watch.tick(at(begins + 110));
    }
    expect(kinds(out)).toEqual(["birch-29/2 silent raised"]);
    expect(out[0]?.words).toContain("only some of its tracks");
    run(watch, train(300, { "alder-14": onTwo, "birch-29": onTwo, "cedar-41": onTwo }));
    expect(kinds(out).at(-1)).toBe("birch-29/2 silent cleared");
  });

  it("a direction that the sites beside it contradict is said from the first train on", () => {
    const { watch, out } = watching();
    const wrong = { pass: { direction: "falling" as const }, direction: "rising" as const, directionDoubted: true };
    run(watch, train(0, { ...everywhere(), "cedar-41": wrong }));
    expect(kinds(out)).toEqual(["cedar-41/1 direction raised", "cedar-41/1 test-due raised"]);
    run(watch, train(120, everywhere()));
    expect(kinds(out).at(-1)).toBe("cedar-41/1 direction cleared");
  });

  it("a join that shows the first site of a train to be wrong says so as well", () => {
    const { watch, out } = watching();
    const wrong = { pass: { direction: "falling" as const }, direction: "rising" as const, directionDoubted: true };
    run(watch, train(0, { "alder-14": wrong, "birch-29": {} }));
    expect(kinds(out)).toContain("alder-14/1 direction raised");
  });

  it("an unjoined pass clears no doubt about a direction", () => {
    const { watch, out } = watching();
    const wrong = { pass: { direction: "falling" as const }, direction: "rising" as const, directionDoubted: true };
    run(watch, train(0, { ...everywhere(), "cedar-41": wrong }));
    run(watch, train(120, { "cedar-41": {} }));
    expect(kinds(out)).not.toContain("cedar-41/1 direction cleared");
  });

  it("a pass whose begin was lost says nothing of the direction: it is our guess, not the site's word", () => {
    const { watch, out } = watching();
    const guessed = {
      pass: { direction: "falling" as const, flags: ["no-begin" as const] },
      direction: "rising" as const,
      directionDoubted: true,
    };
    run(watch, train(0, { ...everywhere(), "cedar-41": guessed }));
    expect(kinds(out)).toEqual([]);
  });

  it("only the owner of a site tells of it", () => {
    const { watch, out, beat } = watching({}, fiveSites(), ["birch-29"]);
    for (let minute = 0; minute <= 30; minute += 5) {
      for (const site of SITES) beat(site, minute);
    }
    watch.tick(at(90));
    expect(kinds(out)).toEqual(["birch-29 dead raised"]);
  });

  it("a fault that a site reports stands until the site says that it is over", () => {
    const { out, report } = watching();
    report({ type: "fault", site: "birch-29", time: iso(1), device: "1/left", fault: "reference-low", cleared: false });
    report({ type: "fault", site: "birch-29", time: iso(9), device: "1/left", fault: "reference-low", cleared: true });
    expect(kinds(out)).toEqual(["birch-29/1/left fault raised", "birch-29/1/left fault cleared"]);
  });

  it("records of a site that are rejected again and again are a condition of the site, for as long as it lasts", () => {
    const { watch, out } = watching({ rejectedPerHour: 5 });
    for (let minute = 0; minute < 4; minute++) watch.refused("birch-29", "FEED-003 schema", at(minute));
    expect(out).toEqual([]);
    watch.refused("birch-29", "FEED-003 schema", at(5));
    watch.refused("birch-29", "FEED-003 schema", at(6));
    watch.tick(at(70));
    expect(kinds(out)).toEqual(["birch-29 feed-quality raised", "birch-29 feed-quality cleared"]);
  });

  it("records rejected at most of its trains are told of as well: a site that sends 32 axles a record has too few an hour", () => {
    const { watch, out } = watching();
    for (let k = 0; k < 12; k++) {
      if (k % 4 === 0) watch.refused("alder-14", "FEED-003 schema", at(k * 40));
      watch.came(pass("alder-14", k * 40), at(k * 40 + 10));
      if (k >= 4 && k < 8) watch.refused("birch-29", "FEED-003 schema", at(k * 40));
      watch.came(pass("birch-29", k * 40), at(k * 40 + 10));
      watch.tick(at(k * 40 + 39));
    }
    watch.tick(at(600));
    expect(kinds(out)).toEqual(["birch-29 feed-quality raised", "birch-29 feed-quality cleared"]);
    expect(out[0]?.words).toContain("at 4 of its last");
  });

  it("what it remembers is plain data: restored, it goes on as if it had never stopped", () => {
    const first = watching();
    const wrong = { pass: { direction: "falling" as const }, direction: "rising" as const, directionDoubted: true };
    for (let minute = 0; minute <= 50; minute += 5) for (const site of SITES) first.beat(site, minute);
    run(first.watch, train(0, { ...everywhere(), "cedar-41": wrong }));
    first.watch.tick(at(80));
    const second = watching();
    second.watch.restore(JSON.parse(JSON.stringify(first.watch.state())));
    for (const one of [first, second]) {
      one.out.length = 0;
      for (const site of SITES.slice(1)) one.beat(site, 82);
      one.watch.tick(at(100));
      run(one.watch, train(101, everywhere()));
    }
    expect(second.out).toEqual(first.out);
    expect(kinds(first.out)).toContain("cedar-41/1 direction cleared");
  });

  it("a pass of its own unit is told with the likely one", () => {
    const { watch, out } = watching();
    const one = train(0, { "birch-29": {} });
    watch.placed(one, one.legs[0]!, "the site likely sends °C absolute");
    const two = train(60, { "birch-29": {} });
    watch.placed(two, two.legs[0]!, null);
    expect(kinds(out)).toEqual(["birch-29 units raised", "birch-29 units cleared"]);
    expect(pass("birch-29", 0).site).toBe("birch-29");
  });
});
