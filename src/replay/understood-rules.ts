import type { Railroad } from "../line/railroad.ts";
import type { RuleBook } from "../warning/rule-book.ts";
import type { Rules } from "../warning/rule-set.ts";
import { tableLines } from "./table.ts";
import type { UnderstoodLine } from "./understood-line.ts";
import { chanceWords, countOf, figure, printable } from "./words.ts";

/** What the rules were understood to say: each dated set with its limits. The railroad tells which rows are ever used. */
export function understoodRules(book: RuleBook, railroad: Railroad | null): UnderstoodLine {
  const { sets } = book;
  const lines = [`${countOf(sets.length, "rule set")}, each in force from its date (UTC) until the next`];
  for (const rules of sets) lines.push("", ...setLines(rules));
  return {
    text: lines.join("\n") + "\n",
    json: { sets },
    notes: railroad === null ? [] : sets.flatMap((rules) => notesOn(rules, railroad)),
  };
}

function setLines(rules: Rules): string[] {
  const columns = [
    { head: "site kind" },
    { head: "trains" },
    { head: "bearing", right: true },
    { head: "critical", right: true },
    { head: "same axle", right: true },
    { head: "wheel", right: true },
  ];
  const rows = Object.entries(rules.limits).flatMap(([kind, row]) =>
    (["ordinary", "key"] as const).flatMap((train) => {
      const limits = row[train];
      if (limits === undefined) return [];
      const figures = [limits.bearingF, limits.criticalF, limits.axleDifferenceF, limits.wheelF].map((limit) => figure(limit, 0));
      return [[printable(kind), train, ...figures]];
    }),
  );
  const { watch, warn } = rules.levels;
  return [
    `Rules ${rules.id} from ${rules.from}: ${printable(rules.name)}`,
    "  limits in °F above ambient",
    ...tableLines(columns, rows, "  "),
    `  watch at a chance of ${chanceWords(watch.raise.beforeNextSite)} before the next site, ${chanceWords(watch.raise.beforeNextButOne)} before the next but one`,
    `  warn at a chance of ${warnWords(warn.raise)}, from ${countOf(warn.minimumReadings, "reading")} on`,
    `  stopping distance ${figure(rules.train.stoppingMiles, 1)} miles; shelving at most ${figure(rules.desk.shelveMaxHours, 1)} hours`,
  ];
}

/** The chances that raise a warn; one of 100 % is switched off. */
function warnWords({ beforeNextSite, beforeNextButOne, within }: Rules["levels"]["warn"]["raise"]): string {
  const used = [
    { chance: beforeNextSite, where: "before the next site" },
    { chance: beforeNextButOne, where: "before the next but one" },
    ...(within === undefined ? [] : [{ chance: within.chance, where: `within ${figure(within.miles, 1)} miles` }]),
  ];
  const words = used.filter(({ chance }) => chance < 1).map(({ chance, where }) => `${chanceWords(chance)} ${where}`);
  return words.join(", ");
}

function notesOn(rules: Rules, railroad: Railroad): string[] {
  const notes: string[] = [];
  const kinds = new Set([...railroad.sites.values()].map((site) => site.kind));
  // One row for all is meant; where some kinds have rows, one without may be a slip of the pen.
  const told = Object.keys(rules.limits).some((kind) => kind !== "default");
  for (const kind of kinds) {
    if (!told || Object.hasOwn(rules.limits, kind)) continue;
    notes.push(`rules ${rules.id} have no limits of their own for sites of kind ${kind}: those of "default" hold`);
  }
  for (const kind of Object.keys(rules.limits)) {
    if (kind === "default" || kinds.has(kind)) continue;
    notes.push(`rules ${rules.id} have limits for kind ${printable(kind)}, but no site is of that kind`);
  }
  return notes;
}
