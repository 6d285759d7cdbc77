import type { LineBook } from "../line/line-book.ts";
import { type Direction, type Link, opposite, type Railroad, type Site } from "../line/railroad.ts";
import { tableLines } from "./table.ts";
import { countOf, figure, printable } from "./words.ts";

/** Mileposts and link miles that differ by more are said to jump: surveys differ by less (assumption). */
const JUMP_MILES = 0.5;

/** What a line file was understood to say, and what in it is sound but worth a look. */
export interface UnderstoodLine {
  text: string;
  json: object;
  notes: string[];
}

/** Every dated state of the railroad, oldest first. */
export function understoodLines(book: LineBook): UnderstoodLine {
  if (book.isSingle) return understoodLine(book.now);
  const states = book.states.map((state) => ({ from: Number.isFinite(state.fromMs) ? new Date(state.fromMs).toISOString() : null, state }));
  const understood = states.map(({ from, state }) => ({
    from,
    when: from === null ? "from the beginning" : `from ${from}`,
    ...understoodLine(state),
  }));
  return {
    text: understood.map(({ when, text }) => `In force ${when}\n${text}`).join("\n"),
    json: { states: understood.map(({ from, json }) => ({ from, ...json })) },
    notes: [...new Set(understood.flatMap(({ when, notes }) => notes.map((note) => `${note} (${when})`)))],
  };
}

/** The railroad as tables: each corridor with its sites in the order of the file, then its links with their set-out places. */
function understoodLine(railroad: Railroad): UnderstoodLine {
  const notes = notesOn(railroad);
  const setOuts = new Set(railroad.links.flatMap((link) => link.setOuts.map((place) => place.id)));
  const miles = railroad.links.reduce((sum, link) => sum + link.miles, 0);
  const lines = [
    `${printable(railroad.name)} (${railroad.id})${railroad.demonstration ? ", invented, for demonstration" : ""}, time zone ${railroad.timeZone}`,
    `${countOf(railroad.sites.size, "site")}, ${countOf(railroad.links.length, "link")} of ${figure(miles, 1)} miles, ` +
      `${countOf(setOuts.size, "set-out place")}, ${countOf(railroad.corridors.length, "corridor")}`,
  ];
  for (const corridor of railroad.corridors) {
    const owned = new Set(corridor.sites);
    const leadIn = corridor.leadIn.length === 0 ? "" : `; lead-in from ${corridor.leadIn.join(", ")}`;
    lines.push("", `Corridor ${corridor.id}: ${printable(corridor.name)}, ${countOf(owned.size, "site")}${leadIn}`, "");
    lines.push(...siteTable(corridor.sites.map((id) => railroad.sites.get(id)!)));
    const links = railroad.links.filter((link) => owned.has(link.from));
    if (links.length > 0) lines.push("", ...linkTable(links, railroad));
  }
  return { text: lines.join("\n") + "\n", json: jsonOf(railroad, miles, setOuts.size), notes };
}

function siteTable(sites: readonly Site[]): string[] {
  const columns = [
    { head: "site" },
    { head: "line" },
    { head: "milepost", right: true },
    { head: "tracks" },
    { head: "wheels" },
    { head: "sends" },
    { head: "kind" },
  ];
  const rows = sites.map((site) => {
    const wheels = site.tracks.filter((track) => track.wheel).map((track) => track.id);
    const { temperature, reading, gap, speed } = site.units;
    const sends = `°${temperature} ${reading === "absolute" ? "absolute" : "above ambient"}, ${gap}, ${speed}`;
    const tracks = site.tracks.map((track) => track.id).join(" ");
    return [
      site.id,
      printable(site.line),
      figure(site.milepost, 2),
      tracks,
      wheels.length === 0 ? "none" : wheels.join(" "),
      sends,
      site.kind,
    ];
  });
  return tableLines(columns, rows, "  ");
}

function linkTable(links: readonly Link[], railroad: Railroad): string[] {
  const columns = [
    { head: "from" },
    { head: "to" },
    { head: "miles", right: true },
    { head: "mph", right: true },
    { head: "tracks" },
    { head: "mileposts" },
    { head: "set-out places (miles from `from`, car lengths)" },
  ];
  const rows = links.map((link) => [
    link.from,
    link.to,
    figure(link.miles, 2),
    figure(link.fastestMph, 0),
    link.tracks.map(([from, to]) => (from === to ? from : `${from}-${to}`)).join(" "),
    milepostWords(link, railroad),
    setOutWords(link),
  ]);
  return tableLines(columns, rows, "  ");
}

function milepostWords(link: Link, railroad: Railroad): string {
  const turn = link.leaves === link.arrives ? link.leaves : `${link.leaves}, then ${link.arrives}`;
  const from = railroad.sites.get(link.from)!;
  const to = railroad.sites.get(link.to)!;
  if (from.line !== to.line) return `${turn}, other line`;
  return Math.abs(Math.abs(to.milepost - from.milepost) - link.miles) > JUMP_MILES ? `${turn}, jump` : turn;
}

function setOutWords(link: Link): string {
  if (link.setOuts.length === 0) return "none";
  return link.setOuts
    .map((place) => {
      const only = place.forward && place.backward ? "" : place.forward ? ` only to ${link.to}` : ` only to ${link.from}`;
      return `${place.id} (${figure(place.miles, 1)}, ${place.carLengths}${only})`;
    })
    .join(", ");
}

/** What may be meant, but costs warnings when it is not. */
function notesOn(railroad: Railroad): string[] {
  const notes: string[] = [];
  for (const link of railroad.links) {
    for (const [site, other] of [
      [link.from, link.to],
      [link.to, link.from],
    ] as const) {
      const owner = railroad.corridorsOf(site)[0]!;
      if (railroad.corridorsOf(other).includes(owner)) continue;
      notes.push(`corridor ${owner} does not list ${other} as leadIn: a bearing that comes from there begins anew at ${site}`);
    }
  }
  for (const site of railroad.sites.values()) notes.push(...notesOnSite(site, railroad));
  return notes;
}

function notesOnSite(site: Site, railroad: Railroad): string[] {
  const linked = railroad.links.filter((link) => link.from === site.id || link.to === site.id);
  if (linked.length === 0) return railroad.sites.size === 1 ? [] : [`no link leads to or from ${site.id}: its trains are never joined`];
  const notes: string[] = [];
  for (const direction of ["rising", "falling"] as const) {
    if (!linked.some((link) => leaves(link, site.id, direction))) continue;
    for (const track of site.tracks) {
      if (railroad.ahead(site.id, track.id, direction, 1).length > 0) continue;
      notes.push(`no link goes on from track ${track.id} of ${site.id} with ${direction} mileposts, while other tracks have one`);
    }
  }
  return notes;
}

function leaves(link: Link, site: string, direction: Direction): boolean {
  return (link.from === site && link.leaves === direction) || (link.to === site && opposite(link.arrives) === direction);
}

function jsonOf(railroad: Railroad, miles: number, setOuts: number): object {
  const { id, name, timeZone, demonstration, links, corridors } = railroad;
  const totals = { sites: railroad.sites.size, links: links.length, miles, setOuts, corridors: corridors.length };
  return { id, name, timeZone, demonstration, totals, sites: [...railroad.sites.values()], links, corridors };
}
