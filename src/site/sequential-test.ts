/**
 * Wald's sequential probability ratio test (1945): evidence is added up until it is enough for one of two answers. `mistaken`
 * is the wanted share of wrong "is wrong" answers, `missed` that of wrong "is well" answers; what comes out is about that, and
 * never more than mistaken / (1 - missed) and missed / (1 - mistaken).
 */
export interface SequentialTest {
  /** Log likelihood ratio so far. */
  evidence: number;
}

export interface Boundaries {
  wrong: number;
  well: number;
}

export function boundaries(mistaken: number, missed: number): Boundaries {
  return { wrong: Math.log((1 - missed) / mistaken), well: Math.log(missed / (1 - mistaken)) };
}

/** Adds evidence; an answer starts the test anew. */
export function weigh(test: SequentialTest, score: number, { wrong, well }: Boundaries): "wrong" | "well" | null {
  test.evidence += score;
  const answer = test.evidence >= wrong ? "wrong" : test.evidence <= well ? "well" : null;
  if (answer !== null) test.evidence = 0;
  return answer;
}
