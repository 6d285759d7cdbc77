import { directionsOf, type Finding, type LineDraft } from "./line-draft.ts";
import type { LinkEntry, SiteEntry } from "./line-schema.ts";
import { type Direction, opposite } from "./railroad.ts";
import { nearestWord } from "./spelling.ts";

/** Links at one end of a site: a junction of four ways is more than any (assumption); the ways ahead stay few. */
const MAX_LINKS_AN_END = 4;

type SetOutEntry = LinkEntry["setOuts"][number];
type PlaceBefore = { place: SetOutEntry; index: number };

/** Sites and tracks that are there twice: `duplicate-site`, `duplicate-track`. */
export function checkSites(draft: LineDraft): Finding[] {
  const findings: Finding[] = [];
  const ids = new Set<string>();
  for (const { index, raw, entry } of draft.sites) {
    const id = raw["id"];
    if (typeof id === "string" && ids.has(id)) findings.push(twice("duplicate-site", ["sites", index, "id"], `site ${id}`));
    if (typeof id === "string") ids.add(id);
    const tracks = new Set<string>();
    entry?.tracks.forEach((track, at) => {
      if (tracks.has(track.id)) findings.push(twice("duplicate-track", ["sites", index, "tracks", at, "id"], `track ${track.id}`));
      tracks.add(track.id);
    });
  }
  return findings;
}

/**
 * What a link refers to: `unknown-site`, `link-to-itself`, `link-twice`, `unknown-track`, `track-pair-twice`,
 * `directions-needed`, `directions-contradict`, `too-many-links`, `set-out-beyond-link`, `duplicate-set-out`, `set-out-contradicts`.
 */
export function checkLinks(draft: LineDraft): Finding[] {
  const findings: Finding[] = [];
  const joined = new Map<string, number>();
  const places = new Map<string, PlaceBefore>();
  for (const { index, raw, entry } of draft.links) {
    for (const end of ["from", "to"] as const) {
      const site = raw[end];
      if (typeof site === "string" && !draft.siteIds.has(site)) findings.push(unknownSite(["links", index, end], site, draft));
    }
    if (entry === null) continue;
    findings.push(...checkPair(entry, index, joined), ...checkTracks(entry, index, draft), ...checkSetOuts(entry, index, draft, places));
    const from = draft.siteById.get(entry.from);
    const to = draft.siteById.get(entry.to);
    if (from !== undefined && to !== undefined && from !== to && directionsOf(entry, from, to) === null)
      findings.push(directionsNeeded(index));
  }
  return [...findings, ...checkEnds(draft)];
}

function checkPair(link: LinkEntry, index: number, joined: Map<string, number>): Finding[] {
  if (link.from === link.to) {
    const says = `the link leads from ${link.from} back to itself`;
    return [
      { code: "link-to-itself", path: ["links", index, "to"], says, expected: "another site", advice: "Name the neighbouring site." },
    ];
  }
  const pair = [link.from, link.to].sort().join(" ");
  const before = joined.get(pair);
  if (before === undefined) {
    joined.set(pair, index);
    return [];
  }
  const says = `${link.from} and ${link.to} are already joined by links[${before}]`;
  const advice = "A link is run in both directions: keep one, with all its track pairs.";
  return [{ code: "link-twice", path: ["links", index, "from"], says, expected: "one link between two sites", advice }];
}

function checkTracks(link: LinkEntry, index: number, draft: LineDraft): Finding[] {
  const findings: Finding[] = [];
  const pairs = new Set<string>();
  link.tracks.forEach((pair, at) => {
    const ends = [link.from, link.to] as const;
    for (const end of [0, 1] as const) {
      const path = ["links", index, "tracks", at, end];
      findings.push(...unknownTrack(path, pair[end], draft.siteById.get(ends[end])));
    }
    const key = pair.join(" ");
    if (pairs.has(key)) findings.push(twice("track-pair-twice", ["links", index, "tracks", at], `the track pair ${key}`));
    pairs.add(key);
  });
  return findings;
}

function checkSetOuts(link: LinkEntry, index: number, draft: LineDraft, places: Map<string, PlaceBefore>): Finding[] {
  const findings: Finding[] = [];
  link.setOuts.forEach((place, at) => {
    const path = ["links", index, "setOuts", at];
    findings.push(...checkPlaceBefore(place, index, [...path, "id"], places));
    if (place.miles >= link.miles) {
      const says = `set-out place ${place.id} is ${place.miles} miles from ${link.from}, but the link is ${link.miles} miles long`;
      const advice = "Count the miles along the link from its `from` site, or move the place to the next link.";
      findings.push({ code: "set-out-beyond-link", path: [...path, "miles"], says, expected: `less than ${link.miles}`, advice });
    }
    place.tracks.forEach((track, t) => {
      findings.push(...unknownTrack([...path, "tracks", t], track, draft.siteById.get(link.from)));
    });
  });
  return findings;
}

/** A place before a junction lies on the links of both ways: it may be named in each, as the same place. */
function checkPlaceBefore(place: SetOutEntry, index: number, path: PropertyKey[], places: Map<string, PlaceBefore>): Finding[] {
  const before = places.get(place.id);
  places.set(place.id, before ?? { place, index });
  if (before === undefined) return [];
  if (before.index === index) return [twice("duplicate-set-out", path, `set-out place ${place.id}`)];
  const { name, milepost, carLengths } = before.place;
  if (place.name === name && place.milepost === milepost && place.carLengths === carLengths) return [];
  const says = `set-out place ${place.id} is another place than in links[${before.index}]`;
  const expected = `${name}, milepost ${milepost}, ${carLengths} car lengths, as there`;
  return [{ code: "set-out-contradicts", path, says, expected, advice: "Give it another id, or the same name, milepost and carLengths." }];
}

/** Everything that leaves one end of a site: at most a few links, and only one that goes on along the site's own line. */
function checkEnds(draft: LineDraft): Finding[] {
  const findings: Finding[] = [];
  const ends = new Map<string, { links: number; along: number | null }>();
  for (const { index, entry } of draft.links) {
    const from = entry === null ? undefined : draft.siteById.get(entry.from);
    const to = entry === null ? undefined : draft.siteById.get(entry.to);
    if (entry === null || from === undefined || to === undefined || from === to) continue;
    const directions = directionsOf(entry, from, to);
    if (directions === null) continue;
    findings.push(...checkEnd(ends, from, to, directions.leaves, index, "leaves", entry));
    findings.push(...checkEnd(ends, to, from, opposite(directions.arrives), index, "arrives", entry));
  }
  return findings;
}

function checkEnd(
  ends: Map<string, { links: number; along: number | null }>,
  site: SiteEntry,
  other: SiteEntry,
  side: Direction,
  index: number,
  key: "leaves" | "arrives",
  link: LinkEntry,
): Finding[] {
  const end = ends.get(`${site.id} ${side}`) ?? { links: 0, along: null };
  ends.set(`${site.id} ${side}`, end);
  end.links++;
  const path = ["links", index, ...(link[key] === undefined ? [] : [key])];
  if (end.links === MAX_LINKS_AN_END + 1) {
    const says = `more than ${MAX_LINKS_AN_END} links meet at the ${side} end of ${site.id}`;
    return [{ code: "too-many-links", path, says, expected: `at most ${MAX_LINKS_AN_END}`, advice: "Link only neighbouring sites." }];
  }
  if (site.line !== other.line) return [];
  if (end.along === null) {
    end.along = index;
    return [];
  }
  const says = `the ${side} end of ${site.id} already leads on along "${site.line}" by links[${end.along}]; both cannot be right`;
  const advice = "Check `leaves` and `arrives` of both links: a branch is a line of its own, with its own name.";
  return [{ code: "directions-contradict", path, says, expected: `one neighbour of the same line at each end of ${site.id}`, advice }];
}

function directionsNeeded(index: number): Finding {
  return {
    code: "directions-needed",
    path: ["links", index],
    says: "the directions of the link cannot be guessed: its sites are on two lines, or its mileposts do not rise",
    expected: "leaves: and arrives:, each rising or falling",
    advice: "Say in which milepost direction a train passes `from`, and then `to`.",
  };
}

export function unknownSite(path: PropertyKey[], site: string, draft: LineDraft): Finding {
  const near = nearestWord(site, draft.siteIds);
  const advice = near === null ? "Add the site, or correct its id." : `Did you mean ${near}?`;
  return { code: "unknown-site", path, says: `there is no site ${site}`, expected: "the id of a site of this file", advice };
}

function unknownTrack(path: PropertyKey[], track: string, site: SiteEntry | undefined): Finding[] {
  if (site === undefined || site.tracks.some(({ id }) => id === track)) return [];
  const known = site.tracks.map(({ id }) => id).join(", ");
  const says = `${site.id} has no track ${track}`;
  return [
    { code: "unknown-track", path, says, expected: `a track of ${site.id}: ${known}`, advice: "Correct the track, or add it to the site." },
  ];
}

function twice(code: string, path: PropertyKey[], what: string): Finding {
  return { code, path, says: `${what} is there twice`, expected: "each once", advice: "Take one out, or give it another id." };
}
