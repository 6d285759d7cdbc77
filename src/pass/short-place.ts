/** "about car 47 from the head (QX 1), second axle of its rear truck, right side in the direction of travel (axle 187)" */
const PLACE = /((?:about )?(?:car|locomotive) \d+) from the head.*?, (left|right) side in the direction of travel \(axle (\d+)\)/g;

/** The same places in lists, where thirty in full would hide what differs: "car 47, axle 187, right". Other text stays as it is. */
export function shortPlaces(text: string): string {
  return text.replace(PLACE, "$1, axle $3, $2");
}
