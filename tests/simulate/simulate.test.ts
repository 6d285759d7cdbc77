import { expect, test } from "vitest";
import { decode } from "../../src/feed/decode.ts";
import { HEATING_MAX_F_PER_MINUTE, LIMIT_RISE_F } from "../../src/simulate/assumptions.ts";
import { readScenario, type Scenario } from "../../src/simulate/scenario.ts";
import { ofScenario } from "../../src/simulate/simulate.ts";
import { axlesOfRows, type PassTruth, railOfTrueSide } from "../../src/simulate/truth.ts";
import { WORLDS, type WorldName } from "../../src/simulate/worlds.ts";
import { demoRailroad, run, sentPasses, shortLine } from "./line.ts";

const railroad = demoRailroad();

function scenario(lines: string): Scenario {
  const read = readScenario(
    `seed: 9\nstart: "2026-03-04T00:00:00Z"\nhours: 12\ntrainsPerDay: 0\nchanges: { malformedPerDay: 0 }\n${lines}`,
    "s.yaml",
  );
  if (read.scenario === null) throw new Error(JSON.stringify(read.mistakes));
  return read.scenario;
}

test("the same seed gives the same bytes and the same truth, another seed another day", () => {
  const wishes = { railroad, seed: 21, hours: 5, world: "ordinary" } as const;
  const one = run(wishes);
  const again = run(wishes);
  expect(again.lines).toEqual(one.lines);
  expect(again.truths).toEqual(one.truths);
  expect(run({ ...wishes, seed: 22 }).lines).not.toEqual(one.lines);
});

test.each(Object.keys(WORLDS) as WorldName[])(
  "world %s: in order of arrival, and the decoder takes all but what was spoilt on purpose",
  (world) => {
    const { texts, lines, truths } = run({ railroad, seed: 4, hours: 8, world });
    let last = 0;
    let rejected = 0;
    texts.forEach((text, at) => {
      expect(text.atMs).toBeGreaterThanOrEqual(last);
      last = text.atMs;
      const line = JSON.parse(lines[at] as string);
      const decoded = decode(line.topic, line.value, { topic: line.topic, partition: 0, offset: at });
      if (decoded.rejected !== undefined) rejected++;
    });
    expect(rejected).toBe(truths.filter((truth) => truth.type === "record").length);
  },
);

test("what a site sends of one track comes pass after pass, also after its line was down", () => {
  const { texts } = run({ railroad: shortLine(), seed: 6, hours: 14, world: { ...WORLDS.ordinary, latePerDay: 3, malformedPerDay: 0 } });
  const open = new Map<string, string>();
  const over = new Set<string>();
  for (const text of texts) {
    if (text.topic !== "axle-readings") continue;
    const { pass } = JSON.parse(text.json);
    const now = `${text.key}/${pass}`;
    const before = open.get(text.key);
    if (before !== undefined && before !== now) over.add(before);
    expect(over.has(now)).toBe(false);
    open.set(text.key, now);
  }
});

test("a site counts as many axles as the truth has rows, and as it says itself", () => {
  const { texts, passes } = run({ railroad, seed: 8, hours: 10, world: "mixed" });
  const sent = sentPasses(texts);
  expect(passes.length).toBeGreaterThan(100);
  for (const pass of passes) {
    const columns = sent.get(`${pass.site}/${pass.track}/${pass.pass}`);
    const rows = axlesOfRows(pass).length;
    expect(columns?.gap.length).toBe(rows);
    if (columns?.axlesSaid !== null) expect(columns?.axlesSaid).toBe(rows);
  }
});

test("the true mapping finds each extraordinary bearing's own readings", () => {
  // Without biases and under-reads what remains is noise, sides, sun and brakes.
  const world = {
    ...WORLDS.mixed,
    biasSdF: 0,
    sickShare: 0,
    driftShare: 0,
    underReadShare: 0,
    coldPerDay: 0,
    sunShare: 0,
    brakesPerTrain: 0,
    clockPerDay: 0,
  };
  const { texts, passes, bearings } = run({ railroad: shortLine(), seed: 10, hours: 30, world });
  const sent = sentPasses(texts);
  const byId = new Map(passes.map((pass) => [pass.id, pass]));
  let near = 0;
  let all = 0;
  let mirrored = 0;
  for (const bearing of bearings) {
    for (const seen of bearing.atPasses) {
      if (seen.riseF < 70) continue;
      const pass = byId.get(seen.pass) as PassTruth;
      const row = axlesOfRows(pass).indexOf(bearing.axle);
      if (row < 0 || pass.marks.includes("braking")) continue;
      const columns = sent.get(`${pass.site}/${pass.track}/${pass.pass}`);
      const rail = railOfTrueSide(pass, bearing.side);
      const read = columns?.bearing[rail][row];
      if (read === null || read === undefined) continue;
      all++;
      if (Math.abs(read - seen.riseF) < 5 * WORLDS.mixed.noiseF) near++;
      if (pass.flipped || pass.direction === "falling") mirrored++;
    }
  }
  expect(all).toBeGreaterThan(100);
  expect(mirrored).toBeGreaterThan(30);
  expect(near / all).toBeGreaterThan(0.99);
});

test("the same day in °C, absolute, millimetres and km/h is the same day", () => {
  const wishes = { seed: 12, hours: 6, world: { ...WORLDS.ordinary, malformedPerDay: 0 } };
  const usual = sentPasses(run({ railroad: shortLine(), ...wishes }).texts);
  const other = sentPasses(
    run({ railroad: shortLine({ temperature: "C", reading: "absolute", gap: "mm", speed: "km/h" }), ...wishes }).texts,
  );
  expect([...other.keys()]).toEqual([...usual.keys()]);
  for (const [key, pass] of usual) {
    const twin = other.get(key);
    if (twin === undefined) throw new Error(key);
    pass.bearing[0].forEach((riseF, row) => {
      const celsius = twin.bearing[0][row];
      if (riseF === null || celsius === null || celsius === undefined) expect(celsius).toBe(riseF);
      // Both are on a grid of 0.1 of their unit, and so is the ambient.
      else expect(Math.abs((celsius - twin.ambient) * 1.8 - riseF)).toBeLessThan(0.35);
    });
    pass.gap.forEach((gap, row) => {
      if (gap !== null) expect(Math.abs((twin.gap[row] as number) / 25.4 - gap)).toBeLessThan(0.08);
    });
    expect((twin.speed[0] as number) / 1.609344).toBeCloseTo(pass.speed[0] as number, 0);
  }
});

test("no bearing heats faster than was ever published, bursts excepted (FRA, Kesler and Tinto 1989, 12.8 °F/min [P])", () => {
  const { passes, bearings } = run({
    railroad,
    seed: 14,
    hours: 60,
    world: { ...WORLDS.winter, developingPerTrain: 1, brakesPerTrain: 0 },
    quiet: true,
  });
  const begun = new Map(passes.map((pass) => [pass.id, Date.parse(pass.begun)]));
  // Between two passes a bearing also wanders a little, and rises with the train's speed.
  const allowanceF = 12;
  let compared = 0;
  for (const bearing of bearings) {
    if (bearing.class === "burst") continue;
    bearing.atPasses.forEach((now, at) => {
      const before = bearing.atPasses[at - 1];
      if (before === undefined) return;
      const minutes = ((begun.get(now.pass) as number) - (begun.get(before.pass) as number)) / 60_000;
      expect(now.riseF - before.riseF).toBeLessThan(HEATING_MAX_F_PER_MINUTE * minutes + allowanceF);
      compared++;
    });
  }
  expect(compared).toBeGreaterThan(800);
});

test("a crossing lies between the passes that show it, and a failure after it", () => {
  const { bearings } = run({ railroad, seed: 15, hours: 26, world: { ...WORLDS.ordinary, developingPerTrain: 1 }, quiet: true });
  let crossed = 0;
  for (const { crossing, failure, atPasses } of bearings) {
    if (failure !== null) expect(failure.mile).toBeGreaterThan(crossing?.mile ?? Number.POSITIVE_INFINITY);
    if (crossing === null) continue;
    crossed++;
    for (const pass of atPasses) if (pass.miles < crossing.mile - 0.5) expect(pass.riseF).toBeLessThan(LIMIT_RISE_F + 10);
    if (failure !== null) for (const pass of atPasses) expect(pass.miles).toBeLessThanOrEqual(failure.mile);
  }
  expect(crossed).toBeGreaterThan(20);
});

test("a warm runner that passes the limit has its crossing there, and never fails", () => {
  const { bearings } = run({ railroad, seed: 16, hours: 26, world: { ...WORLDS.ordinary, warmShare: 0.02 }, quiet: true });
  const warm = bearings.filter(({ kind }) => kind === "warm");
  const hot = warm.filter(({ atPasses }) => atPasses.some(({ riseF }) => riseF >= LIMIT_RISE_F + 5));
  expect(hot.length).toBeGreaterThan(5);
  for (const { crossing } of hot) expect(crossing).not.toBeNull();
  for (const { crossing, failure, atPasses } of warm) {
    expect(failure).toBeNull();
    if (crossing === null) continue;
    for (const { miles, riseF } of atPasses) if (miles < crossing.mile - 0.5) expect(riseF).toBeLessThan(LIMIT_RISE_F + 10);
  }
});

test("adding a train to a scenario leaves the others as they were made", () => {
  const one = "trains:\n  - { name: first, kind: mixed, cars: 40, from: alder-14, to: hollin-178, departs: 1 }\n";
  const two = `${one}  - { name: second, kind: unit, from: rushy-77, to: alder-14, departs: 0.5 }\n`;
  const vehiclesOf = (text: string) => run(ofScenario(railroad, scenario(text))).trains.find((train) => train.train === "first")?.vehicles;
  const before = vehiclesOf(one);
  expect(before?.length).toBeGreaterThan(40);
  expect(vehiclesOf(two)).toEqual(before);
});

test("a train turned on a wye keeps order and sides, one run around comes back the other way round", () => {
  const text = (returns: string) =>
    `trains:\n  - { name: t, kind: mixed, cars: 30, from: alder-14, to: coldrill-44, departs: 1, returns: ${returns} }\n`;
  const passesOf = (returns: string): PassTruth[] => {
    const wanted = scenario(text(returns));
    return run(ofScenario(railroad, { ...wanted, changes: { missedPerThousand: 0, doubledPerThousand: 0, malformedPerDay: 0 } })).passes;
  };
  const wye = passesOf("wye");
  expect(wye.map((pass) => `${pass.site} ${pass.direction}`)).toEqual([
    "alder-14 rising",
    "brock-27 rising",
    "coldrill-44 rising",
    "coldrill-44 falling",
    "brock-27 falling",
    "alder-14 falling",
  ]);
  for (const pass of wye) expect([pass.flipped, pass.rows]).toEqual([false, wye[0]?.rows]);
  const reversed = passesOf("reversed");
  const axles = axlesOfRows(reversed[0] as PassTruth).length;
  expect(reversed.slice(3).every((pass) => pass.flipped)).toBe(true);
  expect(reversed[3]?.rows).toEqual([[axles - 1, -1, axles]]);
  const around = passesOf("run-around");
  expect(around[3]?.flipped).toBe(true);
  // The locomotives lead again, last axle first, then the cars, last car first.
  const locomotives = around[3]?.rows[0]?.[2] as number;
  expect(around[3]?.rows[0]).toEqual([locomotives - 1, -1, locomotives]);
  expect(around[3]?.rows[1]).toEqual([axles - 1, -1, axles - locomotives]);
});

test("cars left behind are not seen again, cars taken are new", () => {
  const wanted = scenario(
    "trains:\n  - { name: t, kind: mixed, cars: 40, from: alder-14, to: dunmere-53, departs: 1, work: [{ before: coldrill-44, setOut: 6, pickUp: 3 }] }\n",
  );
  const { passes, trains } = run(ofScenario(railroad, { ...wanted, changes: { missedPerThousand: 0, doubledPerThousand: 0 } }));
  const vehicles = trains[0]?.vehicles ?? [];
  const left = vehicles.filter((vehicle) => vehicle.leftMile !== null);
  const joined = vehicles.filter((vehicle) => vehicle.joinedMile !== null);
  expect([left.length, joined.length]).toEqual([6, 3]);
  const seen = (pass: PassTruth | undefined): Set<number> => new Set(axlesOfRows(pass as PassTruth));
  for (const vehicle of left)
    expect([seen(passes[1]).has(vehicle.firstAxle), seen(passes[2]).has(vehicle.firstAxle)]).toEqual([true, false]);
  for (const vehicle of joined)
    expect([seen(passes[1]).has(vehicle.firstAxle), seen(passes[2]).has(vehicle.firstAxle)]).toEqual([false, true]);
});

test("look-alike trains are made of the same vehicles, each with its own small differences", () => {
  const wanted = scenario(
    "trains:\n  - { name: a, kind: unit, cars: 60, from: alder-14, to: brock-27, departs: 1 }\n" +
      "  - { name: b, kind: unit, lookAlikeOf: a, from: alder-14, to: brock-27, departs: 1.5 }\n",
  );
  const { texts, passes, trains } = run(ofScenario(railroad, { ...wanted, changes: { missedPerThousand: 0, doubledPerThousand: 0 } }));
  expect(trains[0]?.vehicles.map((vehicle) => vehicle.trucks)).toEqual(trains[1]?.vehicles.map((vehicle) => vehicle.trucks));
  const sent = sentPasses(texts);
  const gaps = ["a", "b"].map((name) => {
    const pass = passes.find((item) => item.train === name && item.site === "alder-14") as PassTruth;
    return sent.get(`${pass.site}/${pass.track}/${pass.pass}`)?.gap.slice(1) as number[];
  });
  const differences = (gaps[0] as number[]).map((gap, at) => Math.abs(gap - (gaps[1]?.[at] as number)));
  expect(Math.max(...differences)).toBeLessThan(12);
  expect(differences.reduce((sum, value) => sum + value, 0) / differences.length).toBeGreaterThan(0.4);
});

test("a dead site sends nothing, a silent one only heartbeats, a late one all at once, a swapped one the other direction", () => {
  const wanted = scenario(
    [
      "trains:",
      ...[0, 1, 2, 3].map((i) => `  - { name: t${i}, kind: mixed, cars: 20, from: alder-14, to: hollin-178, departs: ${1 + i} }`),
    ].join("\n") +
      "\nfaults:\n  - { site: brock-27, kind: dead, from: 0, to: 12 }\n  - { site: coldrill-44, kind: silent, from: 0, to: 12 }\n" +
      "  - { site: dunmere-53, kind: late, from: 0, to: 9 }\n  - { site: elmrigg-72, kind: direction, from: 0, to: 12 }\n",
  );
  const { texts, passes, trains } = run(ofScenario(railroad, wanted));
  const of = (site: string, topic: string) => texts.filter((text) => text.topic === topic && text.key.startsWith(site));
  expect([of("brock-27", "axle-readings").length, of("brock-27", "site-reports").length]).toEqual([0, 0]);
  expect(of("coldrill-44", "axle-readings").length).toBe(0);
  expect(of("coldrill-44", "site-reports").length).toBeGreaterThan(100);
  const endOfSpell = Date.parse("2026-03-04T09:00:00Z");
  expect(of("dunmere-53", "axle-readings").every((text) => text.atMs > endOfSpell)).toBe(true);
  const swapped = passes.filter((pass) => pass.site === "elmrigg-72");
  expect(swapped.length).toBeGreaterThan(1);
  for (const pass of swapped) expect([pass.direction, pass.reportedDirection]).toEqual(["rising", "falling"]);
  expect(trains[0]?.events.filter((event) => event.kind === "unheard").length).toBe(2);
});
