import { expect, test } from "vitest";
import type { OpenJourney } from "../../src/journey/open-journey.ts";
import { Origin } from "../../src/journey/origin.ts";
import { rivalOf } from "../../src/journey/standing.ts";
import type { Candidate } from "../../src/journey/weigh.ts";

const known = (lastPass: string): OpenJourney => ({ last: { pass: { id: lastPass } } }) as OpenJourney;
const near = (open: OpenJourney, score: number): Candidate => ({ open, score }) as Candidate;

test("a journey begun in doubt does not stand against the one that it most likely is the rest of", () => {
  const [one, other, stranger] = [known("a"), known("b"), known("c")];
  const origin = new Origin([near(one, 5), near(other, 1)]);
  // Chances are e^5, e^1 and 1 to each other.
  const all = Math.exp(5) + Math.exp(1) + 1;
  expect(origin.sameNats(one)).toBeCloseTo(-Math.log(1 - Math.exp(5) / all), 10);
  expect(origin.sameNats(other)).toBeCloseTo(-Math.log(1 - Math.exp(1) / all), 10);
  expect(origin.sameNats(stranger)).toBe(0);
});

test("one that went on elsewhere since is another train", () => {
  const one = known("a");
  const origin = new Origin([near(one, 5)]);
  (one.last.pass as { id: string }).id = "a2";
  expect(origin.sameNats(one)).toBe(0);
});

test("however likely, it is never as good as a join", () => {
  const one = known("a");
  expect(new Origin([near(one, 40)]).sameNats(one)).toBe(7);
});

test("the former self of a train is hardly a rival, another train is", () => {
  const [before, stranger] = [known("a"), known("b")];
  const rest = { ...known("c"), origin: new Origin([near(before, 5)]) } as OpenJourney;
  const standing = (open: OpenJourney, nats: number): Candidate =>
    ({ open: Object.assign(open, { origin: open.origin ?? new Origin([]) }), standing: nats, distinctNats: 2 }) as Candidate;
  const best = standing(rest, 10);
  const former = standing(before, 8);
  expect(rivalOf(best, [best, former]).leadNats).toBeCloseTo(2 + rest.origin.sameNats(before), 10);
  expect(rivalOf(former, [former, best]).leadNats).toBeCloseTo(-2 + rest.origin.sameNats(before), 10);
  const other = standing(stranger, 6);
  expect(rivalOf(best, [best, former, other])).toEqual({ rival: other, leadNats: 4 });
});
