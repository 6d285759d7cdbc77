import { h, type VNode } from "./element.ts";

/** What this is not, in one place: TRADE's rule that advice never stands for the site's alarm, the rules or people. */
export const CAUTION =
  "Advice only. The site’s own alarm, the operating rules, local instructions and qualified people govern. A reading may be too low, and no warning does not mean a sound bearing.";

/** Stands at the head of every page that shows warnings, where it is seen without scrolling, and is printed with it. */
export function Caution(): VNode {
  return h("p", { class: "caution" }, CAUTION);
}
