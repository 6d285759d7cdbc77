import { expect, test } from "vitest";
import { fences, median, quantile } from "../../src/bearing/robust.ts";

// NIST/SEMATECH e-Handbook 7.1.6, worked example. The data are from memory; count, quartiles and fences re-computed from them
// reproduce the remembered published values [M], so the set is consistent in itself.
const data = [
  30, 171, 184, 201, 212, 250, 265, 270, 272, 289, 305, 306, 322, 322, 336, 346, 351, 370, 390, 404, 409, 411, 436, 437, 439, 441, 444, 448,
  451, 453, 470, 480, 482, 487, 494, 495, 499, 503, 514, 521, 522, 527, 548, 550, 559, 560, 570, 572, 574, 578, 585, 592, 592, 607, 616,
  618, 621, 629, 637, 638, 640, 656, 668, 707, 709, 719, 737, 739, 752, 758, 766, 792, 792, 794, 802, 818, 830, 832, 843, 858, 860, 869,
  918, 925, 953, 991, 1000, 1005, 1068, 1441,
];

test("the handbook's rule (type 6, rank (N+1)p): quartiles 429.75, 559.5, 742.25; fences -39 and 1211, -507.75 and 1679.75", () => {
  expect(data).toHaveLength(90);
  expect(quantile(data, 0.5, 6)).toBe(559.5);
  expect(median(data)).toBe(559.5);
  const found = fences(data, 6);
  expect([found.q1, found.q3]).toEqual([429.75, 742.25]);
  expect(found.inner).toEqual([-39, 1211]);
  expect(found.outer).toEqual([-507.75, 1679.75]);
});

test("the common default (type 7, rank (N-1)p+1) moves the fences: 436.25, 738.5; -17.125 and 1191.875", () => {
  const found = fences(data, 7);
  expect([found.q1, found.q3]).toEqual([436.25, 738.5]);
  expect(found.inner).toEqual([-17.125, 1191.875]);
  expect(found.outer).toEqual([-470.5, 1645.25]);
});

test("by both rules 1441 is a mild outlier: beyond the inner fence, inside the outer", () => {
  for (const type of [6, 7] as const) {
    const found = fences(data, type);
    expect(data.filter((value) => value > found.inner[1])).toEqual([1441]);
    expect(data.filter((value) => value > found.outer[1] || value < found.inner[0])).toEqual([]);
  }
});
