import type { ConditionKind, SiteCondition } from "../../site/condition.ts";
import type { NotSeeing } from "./condition-shape.ts";

/** Conditions under which a site, or one of its tracks, says nothing of a train that runs over it. */
const SEES_NOTHING: ReadonlySet<ConditionKind> = new Set(["dead", "connection", "silent", "out-of-service"]);

/** Of some sites those that do not see trains now, or that were taken out of service: beside a train it must be known. */
export function notSeeing(conditions: readonly SiteCondition[], sites: Iterable<string>): NotSeeing[] {
  const wanted = new Set(sites);
  return conditions
    .filter(({ kind, state }) => SEES_NOTHING.has(kind) && state === "raised")
    .flatMap(({ site, sites: all, kind, device, raisedAt }) =>
      (all ?? [site]).filter((one) => wanted.has(one)).map((one) => ({ site: one, kind, device, raisedMs: Date.parse(raisedAt) })),
    );
}
