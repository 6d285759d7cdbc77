import { describe, expect, it } from "vitest";
import { stream } from "../../src/simulate/random.ts";
import { at, everywhere, iso, kinds, MINUTE_MS, run, type Seen, SITES, train, type Watching, watching } from "./watching.ts";

const random = stream(4, "counts-and-clocks");

describe("axle counts against the neighbours", () => {
  /** Trains over all sites; the middle one misses and doubles so many of each, by direction. */
  function counted(trains: number, rising: NonNullable<Seen["join"]>, falling: NonNullable<Seen["join"]> = rising) {
    const watched = watching();
    for (let k = 0; k < trains; k++) {
      const isFalling = k % 2 === 1;
      run(watched.watch, train(k * 100, { ...everywhere(), "cedar-41": { join: isFalling ? falling : rising } }, isFalling));
    }
    return watched;
  }
  const miscounts = (watched: Watching) => kinds(watched.out).filter((one) => one.includes("miscount"));

  it("a few miscounts now and then are no rate", () => {
    expect(miscounts(counted(100, { missedSingly: 0, doubled: 0 }, { missedSingly: 1, doubled: 0 }))).toEqual([]);
  });

  it("a rate that is surely over the railroad's is told, with the count and the least rate", () => {
    const watched = counted(30, { missedSingly: 2, doubled: 1 });
    expect(miscounts(watched)).toEqual(["cedar-41/1 miscount raised"]);
    expect(watched.out[0]?.words).toMatch(/at least [\d.]+ per 1,000/);
    expect(watched.out[0]?.words).toContain("which transducer");
    expect(kinds(watched.out)).toContain("cedar-41/1 test-due raised");
  });

  it("axles missed in one direction only name the transducer reached first by those trains", () => {
    const rising = counted(60, { missedSingly: 5, doubled: 0 }, { missedSingly: 0, doubled: 0 });
    expect(rising.out.find(({ kind }) => kind === "miscount")?.words).toContain("transducer 1 first");
    const falling = counted(60, { missedSingly: 0, doubled: 0 }, { missedSingly: 5, doubled: 0 });
    expect(falling.out.find(({ kind }) => kind === "miscount")?.words).toContain("transducer 2 first");
  });

  it("axles without a speed in one direction only name the transducer reached second", () => {
    const watched = watching();
    for (let k = 0; k < 60; k++) {
      const isFalling = k % 2 === 1;
      const speedMph = new Float32Array(400).fill(39.77);
      if (!isFalling) for (let row = 0; row < 400; row += 20) speedMph[row] = Number.NaN;
      run(
        watched.watch,
        train(k * 100, { ...everywhere(), "cedar-41": { pass: { speedMph }, join: { missedSingly: 3, doubled: 1 } } }, isFalling),
      );
    }
    expect(watched.out.find(({ kind }) => kind === "miscount")?.words).toContain("transducer 2 first");
  });

  it("a track that counts right again is taken back", () => {
    const watched = watching();
    for (let k = 0; k < 120; k++)
      run(watched.watch, train(k * 100, { ...everywhere(), "cedar-41": { join: { missedSingly: k < 30 ? 3 : 0, doubled: 0 } } }));
    expect(miscounts(watched)).toEqual(["cedar-41/1 miscount raised", "cedar-41/1 miscount cleared"]);
  });
});

describe("spacings against the neighbours", () => {
  type Factors = Partial<Record<(typeof SITES)[number], number>>;
  /** Trains over some of the sites, one way and the other; `from` their number so far. */
  const runs = (watched: Watching, factor: Factors, trains: number, from = 0, over: readonly (typeof SITES)[number][] = SITES) => {
    for (let k = from; k < from + trains; k++) {
      const isFalling = k % 2 === 1;
      const first = isFalling ? over.at(-1)! : over[0]!;
      const of = (site: (typeof SITES)[number]) => (factor[site] ?? 1) * (1 + 0.0005 * random.normal());
      const seen = Object.fromEntries(over.map((site) => [site, { join: { scale: of(site) / (factor[first] ?? 1) } }]));
      run(watched.watch, train(k * 100, seen, isFalling));
    }
  };
  const told = (watched: Watching) => kinds(watched.out).filter((one) => one.includes("scale"));
  const scales = (factor: Factors, trains = 20) => {
    const watched = watching();
    runs(watched, factor, trains);
    return told(watched);
  };

  it("a site off by three per cent is told, and not its neighbours", () => {
    expect(scales({ "cedar-41": 1.03 })).toEqual(["cedar-41/1 scale raised"]);
    expect(scales({ "cedar-41": 0.97 })).toEqual(["cedar-41/1 scale raised"]);
  });

  it("a site at the end of the line is told from its neighbour, which others vouch for", () => {
    expect(scales({ "alder-14": 1.03 })).toEqual(["alder-14/1 scale raised"]);
  });

  it("sites off by up to one per cent, as sites are, are nothing to tell", () => {
    expect(scales({ "alder-14": 1.01, "birch-29": 0.99, "cedar-41": 1.008, "dell-55": 0.993 }, 60)).toEqual([]);
  });

  it("a site that is off does not hide behind a neighbour that is built a little short", () => {
    expect(scales({ "birch-29": 1.0016, "cedar-41": 1.0243, "dell-55": 0.9985, "elm-69": 1.0113 }, 24)).toEqual([
      "cedar-41/1 scale raised",
    ]);
  });

  it("a site two places on, compared only while the one between was down, does not vouch for ever", () => {
    const watched = watching();
    runs(watched, { "alder-14": 1.005 }, 8, 0, ["alder-14", "cedar-41", "dell-55", "elm-69"]);
    runs(watched, { "alder-14": 1.005 }, 40, 8);
    runs(watched, { "alder-14": 1.005, "cedar-41": 1.03 }, 20, 48);
    expect(told(watched)).toEqual(["cedar-41/1 scale raised"]);
  });
});

describe("clocks", () => {
  /** Heartbeats of all sites every five minutes, at their own seconds; the middle site's clock is off. */
  function beats(hours: number, offMs: (minute: number) => number, lateMs: (minute: number) => number = () => 0) {
    const watched = watching();
    for (let minute = 0; minute < hours * 60; minute++) {
      SITES.forEach((site, k) => {
        if (minute % 5 !== k) return;
        const ms = at(minute) + 1_000 * k;
        const off = site === "cedar-41" ? offMs(minute) : 0;
        const late = site === "cedar-41" ? lateMs(minute) : 0;
        watched.report({ type: "heartbeat", site, time: new Date(ms + off - late).toISOString() }, ms + 500);
      });
      watched.watch.tick(at(minute) + 30_000);
    }
    return watched;
  }
  const told = (watched: Watching) => kinds(watched.out).filter((one) => one.includes("clock") || one.includes("late"));

  it("that agree raise nothing", () => {
    expect(told(beats(24, () => 0))).toEqual([]);
  });

  it.each([
    [4, "ahead of"],
    [-7, "behind"],
  ])("off by %d minutes from the beginning are a steady offset", (minutes, where) => {
    const watched = beats(5, () => minutes * MINUTE_MS);
    expect(told(watched)).toEqual(["cedar-41 clock raised"]);
    expect(watched.out[0]?.words).toContain(where);
  });

  it("that jump are told with the jump, and no longer when they are set", () => {
    const watched = beats(12, (minute) => (minute > 300 && minute < 480 ? 13 * MINUTE_MS : 0));
    expect(told(watched)).toEqual(["cedar-41 clock raised", "cedar-41 clock cleared"]);
    expect(watched.out[0]?.words).toContain("jumped by");
  });

  it("that drift are told as a drift", () => {
    const watched = beats(20, (minute) => minute * 300);
    expect(told(watched)).toEqual(["cedar-41 clock raised"]);
    expect(watched.out[0]?.words).toMatch(/drifts by 1[6-9] seconds an hour/);
  });

  it("a clock that is right, of a site whose records come late, is late: running times tell the two apart", () => {
    const watched = watching();
    for (let k = 0; k < 6; k++) run(watched.watch, train(k * 10 - 600, everywhere()));
    for (let minute = 0; minute < 300; minute++) {
      SITES.forEach((site, k) => {
        if (minute % 5 !== k) return;
        const late = site === "cedar-41" ? 20 * MINUTE_MS : 0;
        watched.report({ type: "heartbeat", site, time: new Date(at(minute) - late).toISOString() }, at(minute));
      });
      watched.watch.tick(at(minute) + 30_000);
    }
    expect(told(watched)).toEqual(["cedar-41 late raised"]);
  });

  it("a pass that was waited for says nothing of its site's clock", () => {
    const watched = beats(3, () => 0);
    for (let minute = 180; minute < 400; minute++) {
      SITES.forEach((site, k) => {
        if (minute % 5 === k) watched.beat(site, minute);
      });
      watched.watch.heard("cedar-41", at(minute - 31), at(minute), at(minute), false);
    }
    expect(told(watched)).toEqual([]);
  });

  it("our own time being off is held against no site", () => {
    const watched = watching();
    for (let minute = 0; minute < 300; minute++) {
      SITES.forEach((site, k) => {
        if (minute % 5 === k) watched.report({ type: "heartbeat", site, time: iso(minute) }, at(minute) - 12 * MINUTE_MS);
      });
    }
    expect(told(watched)).toEqual([]);
  });
});
