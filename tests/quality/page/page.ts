import { createHash } from "node:crypto";
import { type Markup, markup } from "../../../src/replay/report/markup.ts";
import { STYLE } from "../../../src/replay/report/style.ts";
import { assumptionsText } from "../../../src/simulate/assumptions.ts";
import { worldsText } from "../../../src/simulate/worlds.ts";
import { PUBLISHED_RULES } from "../../bench/baselines/published-rules.ts";
import { goalsOf } from "../goals.ts";
import { ENGINE, NUISANCE_KINDS } from "../outcome.ts";
import { FITTING_SEEDS, REPORTING_SEEDS } from "../plan.ts";
import { type Cell, COSTS, cellOf } from "../sweep.ts";
import { count, median, share } from "../table-text.ts";
import type { WorldReport } from "../world-report.ts";
import { costPicture, curvePicture, leadPicture, reliabilityPicture } from "./pictures.ts";

const OWN_STYLE = `${STYLE}
.chart{min-width:640px}.rule{fill:none;stroke:var(--ink)}.even{stroke:var(--quiet);stroke-dasharray:3 4;fill:none}
pre{overflow-x:auto;font-size:.8rem}
`;

/** The project's checks of written code do not look at this page. */
const BY_PROGRAM = ["lint", "format"].map((check) => `<!-- biome-ignore-all ${check}: made by a program -->\n`).join("");

/** The measurement as one page: opens without a network, needs no script, reads in grey and by ear. `date` is the day it was made. */
export function qualityPage(reports: readonly WorldReport[], date: string): string {
  const page = markup`<a class="skip" href="#content">Skip to the content</a>
<header><h1>How early the warnings come, and what they cost</h1>
<p class="note">Simulated days of invented railroads, whose truth is known. Measured on ${date} with <code>npm run quality</code>. What the simulator takes for true is listed at the end; a real railroad differs. Warnings advise only: the site's own alarm, the operating rules and qualified people govern.</p>
<p>The engine gets the records, the line file and the rules, nothing else: it assembles, joins and levels by itself. The published rules are given every bearing's true name, an advantage that the engine does not have; so is the line "engine, true names", which shows what the joining costs. Every rule's threshold is set so that all cost the same. The engine's numbers may be fitted on seeds ${FITTING_SEEDS.from} to ${FITTING_SEEDS.to}; this page is made of seeds from ${REPORTING_SEEDS.from} on.</p>
<nav aria-label="Contents"><ul><li><a href="#goals">Goals</a></li>${reports.map(({ world }) => markup`<li><a href="#${world}">${world}</a></li>`)}<li><a href="#rules">Rules</a></li><li><a href="#assumptions">Assumptions</a></li></ul></nav></header>
<main id="content">
<section aria-labelledby="goals"><h2 id="goals">Goals</h2>${goalTable(reports)}</section>
${reports.map(worldSection)}
<section aria-labelledby="rules"><h2 id="rules">The published rules</h2><ul>${PUBLISHED_RULES.map((rule) => markup`<li>${rule.name}: ${rule.source}. Score: ${rule.unit}.</li>`)}</ul><p>Grades: [P] read in the primary publication, [S] quoted from it elsewhere, [D] arithmetic on such figures, [M] from memory.</p></section>
<section aria-labelledby="assumptions"><h2 id="assumptions">What the simulator takes for true</h2><pre tabindex="0">${worldsText()}</pre><pre tabindex="0">${assumptionsText()}</pre></section>
</main>`;
  const hash = createHash("sha256").update(OWN_STYLE).digest("base64");
  const policy = `default-src 'none'; style-src 'sha256-${hash}'; base-uri 'none'; form-action 'none'`;
  const head = markup`<meta charset="utf-8"><meta http-equiv="Content-Security-Policy" content="${policy}"><meta name="viewport" content="width=device-width,initial-scale=1"><meta name="referrer" content="no-referrer"><title>How early the warnings come, and what they cost</title>`;
  return `${BY_PROGRAM}<!doctype html>\n<html lang="en">\n<head>${head.text}<style>${OWN_STYLE}</style></head>\n<body>\n${page.text}\n</body>\n</html>\n`;
}

function goalTable(reports: readonly WorldReport[]): Markup {
  const rows = goalsOf(reports).map(
    ({ name, goal, measured, reached }) =>
      markup`<tr><th scope="row">${name}</th><td>${goal}</td><td>${measured}</td><td>${reached ? "reached" : "not reached"}</td></tr>`,
  );
  return markup`<div class="scroll" tabindex="0" role="region" aria-label="Goals"><table class="list"><caption>Goals and what was measured</caption><thead><tr><th scope="col">measure</th><th scope="col">goal</th><th scope="col">measured</th><th scope="col">verdict</th></tr></thead><tbody>${rows}</tbody></table></div>`;
}

function worldSection(report: WorldReport): Markup {
  const { world, trains, passes, developing, crossed, seeds, hours } = report;
  return markup`<section aria-labelledby="${world}"><h2 id="${world}">World: ${world}</h2>
<p>${count(trains)} trains, ${count(passes)} passes, ${count(developing)} developing bearings of which ${count(crossed)} reached the limit on the way; seeds ${seeds}, ${hours} hours each.</p>
${ruleTable(report)}${costPicture(report)}${leadPicture(report)}${reliabilityPicture(report)}${accountTable(report)}${nuisanceTable(report)}
<h3>Worst misses at 1 per 1,000</h3>${causes(report.misses.byCause, "missed, by cause (bursts not counted)")}
<p class="quiet">Squares: read. Triangles: the engine would warn. Dotted: the truth. Figures: the engine's factor; it warns as the rules stand from 1 on, here from ${cellOf(report.cells, ENGINE, 1).threshold.toFixed(2)} on.</p>
${report.misses.worst.map(({ seed, one, cause }, index) => {
  const title = `Seed ${seed}, bearing ${one.number}: ${one.class}, ${one.form}; reached the limit at mile ${one.crossingMile.toFixed(0)}`;
  return markup`<h4>${title}</h4><p>${cause}.</p>${curvePicture(`${world}-miss-${index}`, title, one.curve, cellOf(report.cells, ENGINE, 1).threshold)}`;
})}
<h3>Worst nuisances at 1 per 1,000</h3>${causes(report.nuisances.byCause, "nuisances, by cause")}
${report.nuisances.worst.map(({ seed, one, cause }, index) => {
  const title = `Seed ${seed}, ${one.train}/${one.axle}/${one.side}: ${one.kind}, factor ${one.score.toFixed(2)} at mile ${one.miles.toFixed(0)}`;
  return markup`<h4>${title}</h4><p>${cause}.</p>${curvePicture(`${world}-nuisance-${index}`, title, one.curve, cellOf(report.cells, ENGINE, 1).threshold)}`;
})}</section>`;
}

function ruleTable(report: WorldReport): Markup {
  const row = (cell: Cell): Markup =>
    markup`<tr><th scope="row">${cell.cost === null ? `as the rules file stands: ${cell.perThousand.toFixed(2)}` : cell.cost}</th><td>${cell.rule}</td><td>${share(cell.early["slow and medium"])}</td><td>${share(cell.early.fast)}</td><td>${share(cell.early.burst)}</td><td>${median(cell.leadToCrossing)}</td><td>${median(cell.leadToLimit)}</td></tr>`;
  const rows = [...COSTS, null].flatMap((cost) => report.cells.filter((cell) => cell.cost === cost).map(row));
  return markup`<div class="scroll" tabindex="0" role="region" aria-label="Rules at equal cost, ${report.world} world"><table class="list"><caption>Share of bearings with a warn at an earlier site than their first reading at the limit and than the failure, and median lead in miles (slow and medium), each with its 95 % interval</caption><thead><tr><th scope="col">nuisances per 1,000 passes</th><th scope="col">rule</th><th scope="col">slow and medium</th><th scope="col">fast</th><th scope="col">burst</th><th scope="col">lead to the crossing</th><th scope="col">lead to the limit reading</th></tr></thead><tbody>${rows}</tbody></table></div>`;
}

function accountTable(report: WorldReport): Markup {
  const { joins, identity, bias, crossing, limits } = report;
  const join = (one: WorldReport["joins"]["all"]): string =>
    one.passes === 0
      ? "none"
      : `${share(one.right)} right; per 100,000: wrong ${one.wrongPer100k.toFixed(0)}, over a site ${one.skippedPer100k.toFixed(0)}, undone and said ${one.undoneSaidPer100k.toFixed(0)}, undone and silent ${one.undoneSilentPer100k.toFixed(0)}`;
  const rows: [string, string][] = [
    ["bound: with the true curves known", `${share(report.bound.mainly)} of slow and medium, ${share(report.bound.fast)} of fast`],
    [
      `early at 1 per 1,000 over the best published rule (${report.bestRule})`,
      `${report.timesBest.toFixed(2)} times; with the true names ${report.timesTrueNames.toFixed(2)}; with the true curves known, the most there can be, ${report.timesBound.toFixed(2)}`,
    ],
    [
      "bearings that trip a plain limit without a defect",
      `${share(report.trips)}; published: about 40 % of those removed (me_fac/186 [P])`,
    ],
    ["limit readings reported", `${count(limits.share.hits)} of ${count(limits.share.of)}`],
    ["80 % interval of the crossing holds", `${share(crossing.share)} of ${crossing.share.of}`],
    [
      "expected calibration error of the chance",
      `${report.chance.ece.toFixed(4)}; ${report.chance.eceAboveFirst.toFixed(3)} above the first tenth`,
    ],
    ["joins, trains with ids", join(joins.withId)],
    ["joins, without", join(joins.withoutId)],
    ["bearings that kept their name over the journey", share(identity.whole)],
    ["cars right from spacings alone", `${share(report.cars)} of ${count(report.cars.of)}`],
    ["bias after a day, median error, sound scanners", `${median(bias.sound)} °F`],
    ["bias after a day, median error, sick scanners", `${median(bias.sick)} °F`],
  ];
  return markup`<table class="list"><caption>Accounts</caption><tbody>${rows.map(([name, words]) => markup`<tr><th scope="row">${name}</th><td>${words}</td></tr>`)}</tbody></table>`;
}

function nuisanceTable(report: WorldReport): Markup {
  const rows = [...COSTS, null].map((cost) => {
    const cell = cellOf(report.cells, ENGINE, cost);
    return markup`<tr><th scope="row">${cost ?? "rules file"}</th>${NUISANCE_KINDS.map((kind) => markup`<td>${cell.kinds[kind]}</td>`)}<td>${share(cell.beside)}</td></tr>`;
  });
  return markup`<div class="scroll" tabindex="0" role="region" aria-label="Nuisances by kind"><table><caption>The engine's nuisances by what they truly were; last column: share of all warns that stood on the wrong bearing beside a live defect</caption><thead><tr><th scope="col">per 1,000</th>${NUISANCE_KINDS.map((kind) => markup`<th scope="col">${kind}</th>`)}<th scope="col">wrong bearing</th></tr></thead><tbody>${rows}</tbody></table></div>`;
}

function causes(byCause: Record<string, number>, caption: string): Markup {
  return markup`<table class="list"><caption>${caption}</caption><tbody>${Object.entries(byCause).map(([cause, number]) => markup`<tr><th scope="row">${cause}</th><td>${number}</td></tr>`)}</tbody></table>`;
}
