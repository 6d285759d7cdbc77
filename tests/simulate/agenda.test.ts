import fc from "fast-check";
import { expect, test } from "vitest";
import { Agenda, type Source } from "../../src/simulate/agenda.ts";

/** Happens at given times and says so. */
class Bell implements Source<number> {
  at: number;
  private readonly times: number[];
  constructor(times: number[]) {
    this.times = [...times].sort((a, b) => a - b);
    this.at = this.times.shift() ?? Number.POSITIVE_INFINITY;
  }
  step(out: number[]): void {
    out.push(this.at);
    this.at = this.times.shift() ?? Number.POSITIVE_INFINITY;
  }
}

test("whatever was added, everything happens once and in the order of time", () => {
  fc.assert(
    fc.property(fc.array(fc.array(fc.nat({ max: 1000 }), { minLength: 1, maxLength: 8 }), { maxLength: 20 }), (lists) => {
      const agenda = new Agenda<number>();
      for (const list of lists) agenda.add(new Bell(list));
      const out: number[] = [];
      while (agenda.size > 0) {
        const due = agenda.nextAt;
        agenda.step(out);
        expect(out[out.length - 1]).toBe(due);
      }
      expect(out).toEqual(lists.flat().sort((a, b) => a - b));
    }),
    { seed: 2 },
  );
});

test("of two things at one time the one that was there first happens first", () => {
  const agenda = new Agenda<string>();
  const say = (word: string): Source<string> => ({
    at: 5,
    step(out) {
      out.push(word);
      this.at = Number.POSITIVE_INFINITY;
    },
  });
  for (const word of ["first", "second", "third"]) agenda.add(say(word));
  const out: string[] = [];
  while (agenda.size > 0) agenda.step(out);
  expect(out).toEqual(["first", "second", "third"]);
});
