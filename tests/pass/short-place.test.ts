import { expect, test } from "vitest";
import { shortPlaces } from "../../src/pass/short-place.ts";

test("places in lists keep the vehicle, the axle and the side, and the doubt", () => {
  const place = "car 47 from the head (QX 394916), second axle of its rear truck, right side in the direction of travel (axle 187)";
  expect(shortPlaces(place)).toBe("car 47, axle 187, right");
  expect(shortPlaces(`train Q118, about ${place}`)).toBe("train Q118, about car 47, axle 187, right");
  expect(shortPlaces("locomotive 2 from the head, third axle of its front truck, left side in the direction of travel (axle 9)")).toBe(
    "locomotive 2, axle 9, left",
  );
});

test("what is no such place stays as it is", () => {
  for (const text of ["axle 187, right side in the direction of travel", "Orrin 1/right", ""]) expect(shortPlaces(text)).toBe(text);
});
