import type { Finding, LineDraft } from "./line-draft.ts";
import type { CorridorEntry } from "./line-schema.ts";
import { unknownSite } from "./link-check.ts";

/**
 * Corridors share out the sites: `duplicate-corridor`, `unknown-site`, `site-in-two-corridors`, `site-without-corridor`,
 * `lead-in-owned`, `corridor-apart`, `lead-in-apart`.
 */
export function checkCorridors(draft: LineDraft): Finding[] {
  const findings: Finding[] = [];
  const ids = new Set<string>();
  const owner = new Map<string, string>();
  const sound = draft.corridors.length > 0 && draft.corridors.every(({ entry }) => entry !== null);
  const neighbours = neighboursOf(draft);
  for (const { index, entry } of draft.corridors) {
    if (entry === null) continue;
    if (ids.has(entry.id)) {
      const says = `corridor ${entry.id} is there twice`;
      findings.push({
        code: "duplicate-corridor",
        path: ["corridors", index, "id"],
        says,
        expected: "each once",
        advice: "Give it another id.",
      });
    }
    ids.add(entry.id);
    findings.push(...checkOwned(entry, index, draft, owner), ...checkLeadIn(entry, index, draft));
    findings.push(...checkTogether(entry, index, neighbours, draft));
  }
  if (!sound) return findings;
  for (const { index, raw } of draft.sites) {
    const id = raw["id"];
    if (typeof id !== "string" || owner.has(id)) continue;
    const advice = "Add it to `sites` of one corridor: passes at a site that nobody owns would never be followed.";
    const says = `site ${id} is in no corridor`;
    findings.push({ code: "site-without-corridor", path: ["sites", index, "id"], says, expected: "one corridor that owns it", advice });
  }
  return findings;
}

function checkOwned(corridor: CorridorEntry, index: number, draft: LineDraft, owner: Map<string, string>): Finding[] {
  const findings: Finding[] = [];
  corridor.sites.forEach((site, at) => {
    const path = ["corridors", index, "sites", at];
    const before = owner.get(site);
    if (!draft.siteIds.has(site)) findings.push(unknownSite(path, site, draft));
    else if (before !== undefined) {
      const says = before === corridor.id ? `site ${site} is listed twice` : `site ${site} is already owned by corridor ${before}`;
      const advice = "Keep it in one; list it as leadIn where trains come from there.";
      findings.push({ code: "site-in-two-corridors", path, says, expected: "one owner for each site", advice });
    }
    owner.set(site, before ?? corridor.id);
  });
  return findings;
}

function checkLeadIn(corridor: CorridorEntry, index: number, draft: LineDraft): Finding[] {
  const findings: Finding[] = [];
  corridor.leadIn.forEach((site, at) => {
    const path = ["corridors", index, "leadIn", at];
    if (!draft.siteIds.has(site)) findings.push(unknownSite(path, site, draft));
    else if (corridor.sites.includes(site) || corridor.leadIn.indexOf(site) < at) {
      const says = `site ${site} is already in corridor ${corridor.id}`;
      findings.push({ code: "lead-in-owned", path, says, expected: "sites of a neighbouring corridor, each once", advice: "Take it out." });
    }
  });
  return findings;
}

/** A corridor hangs together by links, and each lead-in site by links to it: else no train could be joined over it. */
function checkTogether(corridor: CorridorEntry, index: number, neighbours: Map<string, Set<string>>, draft: LineDraft): Finding[] {
  const all = new Set([...corridor.sites, ...corridor.leadIn]);
  const reached = spread(corridor.sites[0]!, all, neighbours);
  // A link with a mistake of its own may be the one that is missing here: that mistake comes first.
  if (draft.links.some(({ entry }) => entry === null || !draft.siteIds.has(entry.from) || !draft.siteIds.has(entry.to))) return [];
  const apart = (code: string, key: "sites" | "leadIn") =>
    corridor[key].flatMap((site, at): Finding[] => {
      if (reached.has(site) || !draft.siteIds.has(site)) return [];
      const says = `no links inside corridor ${corridor.id} join ${site} to ${corridor.sites[0]}`;
      return [
        { code, path: ["corridors", index, key, at], says, expected: "neighbouring sites", advice: "Add the link, or move the site." },
      ];
    });
  return [...apart("corridor-apart", "sites"), ...apart("lead-in-apart", "leadIn")];
}

function spread(start: string, within: ReadonlySet<string>, neighbours: Map<string, Set<string>>): Set<string> {
  const reached = new Set([start]);
  // A set is walked in the order of adding, also over what is added meanwhile.
  for (const site of reached) {
    for (const next of neighbours.get(site) ?? []) if (within.has(next)) reached.add(next);
  }
  return reached;
}

function neighboursOf(draft: LineDraft): Map<string, Set<string>> {
  const neighbours = new Map<string, Set<string>>();
  const add = (site: string, other: string) => neighbours.set(site, (neighbours.get(site) ?? new Set()).add(other));
  for (const { entry } of draft.links) {
    if (entry === null) continue;
    add(entry.from, entry.to);
    add(entry.to, entry.from);
  }
  return neighbours;
}
