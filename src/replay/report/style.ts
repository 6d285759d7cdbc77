/**
 * The look of the report: quiet grey, dark on request of the system, grey paper in print. Colour is never the only sign:
 * levels have shapes and words, lines have dashes and patterns.
 */
export const STYLE = `
:root{color-scheme:light dark;--ground:#e9ebea;--sheet:#f6f7f6;--ink:#1d2322;--quiet:#56605d;--line:#c3c9c6;--faint:#dadfdc;
--watch:#3f5f86;--warn:#8f4f00;--limit:#9c1238;--mark-bar:#fff;--side:#b9c3bf;--fan:#c9a36a;--train:#87918d;--link:#1f4f7a}
@media (prefers-color-scheme:dark){:root{--ground:#151818;--sheet:#1d2121;--ink:#dde3e0;--quiet:#9aa5a1;--line:#414a47;--faint:#2b3130;
--watch:#8fb4e3;--warn:#eda94e;--limit:#ff7d9c;--mark-bar:#1d2121;--side:#46514d;--fan:#8a6a38;--train:#6f7b77;--link:#9cc4ee}}
*{box-sizing:border-box}
body{margin:0;background:var(--ground);color:var(--ink);font:16px/1.45 system-ui,"Liberation Sans",Arial,sans-serif}
a{color:var(--link)}
.skip{position:absolute;left:-999px}.skip:focus{left:8px;top:8px;background:var(--sheet);padding:6px 10px;z-index:1}
header,main,footer{max-width:1240px;margin:0 auto;padding:20px 24px}
header{padding-bottom:0}
h1{font-size:1.6rem;margin:0 0 4px}h2{font-size:1.25rem;margin:36px 0 10px;border-bottom:2px solid var(--line);padding-bottom:4px}
h3{font-size:1.05rem;margin:22px 0 8px}h4{font-size:.95rem;margin:12px 0 4px}
nav ul{list-style:none;margin:12px 0 0;padding:0;display:flex;flex-wrap:wrap;gap:4px 18px}
p{margin:6px 0 10px;max-width:80ch}.quiet{color:var(--quiet)}
.note,.caution{border-left:4px solid var(--quiet);padding:2px 0 2px 10px;color:var(--quiet)}
.advice{border-left:4px solid var(--ink);padding:4px 0 4px 10px;font-size:1.05rem}
.key{display:grid;grid-template-columns:repeat(auto-fit,minmax(130px,1fr));gap:2px;margin:14px 0}
.key div{background:var(--sheet);padding:8px 12px;display:flex;flex-direction:column-reverse;justify-content:flex-end}
.key dd{margin:0;font-size:1.45rem;font-variant-numeric:tabular-nums}.key dt{color:var(--quiet);font-size:.82rem;line-height:1.25}
.warning{background:var(--sheet);padding:2px 18px 16px;margin:18px 0;border-top:3px solid var(--line)}
.columns{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(100%,380px),1fr));gap:0 32px}
.columns ul{padding-left:18px;margin:4px 0}
.columns dl{margin:4px 0}.columns dl div{display:grid;grid-template-columns:11em 1fr;gap:10px;padding:2px 0;border-bottom:1px solid var(--faint)}
.columns dt{color:var(--quiet)}.columns dd{margin:0;overflow-wrap:anywhere}
.scroll{overflow-x:auto}.scroll:focus-visible,a:focus-visible,summary:focus-visible{outline:2px solid var(--link);outline-offset:2px}
table{border-collapse:collapse;margin:10px 0;font-size:.88rem;font-variant-numeric:tabular-nums}
caption{text-align:left;color:var(--quiet);padding:4px 0;font-size:.9rem}
th,td{text-align:right;padding:4px 9px;border-bottom:1px solid var(--line);vertical-align:top}
thead th{font-weight:600;border-bottom:2px solid var(--line);vertical-align:bottom}
tbody th,tfoot th{font-weight:400;text-align:left}th:first-child{text-align:left}
.list td,.list th{text-align:left}.list .n{text-align:right}.list td{min-width:4em}.nowrap{white-space:nowrap}.id{overflow-wrap:anywhere}
code{font:.85em/1.3 ui-monospace,"Liberation Mono",monospace;overflow-wrap:anywhere}.sample{margin-bottom:6px;min-width:22em}
.tag{white-space:nowrap;font-weight:600}.tag svg{width:1.15em;height:1.15em;vertical-align:-.2em;margin-right:.3em}
.tag.watch{color:var(--watch)}.tag.warn{color:var(--warn)}.tag.limit{color:var(--limit)}
.picture{display:block;width:100%;height:auto;background:var(--sheet)}
.time-distance{min-width:860px}.curve{min-width:640px}
.picture text{font-size:12px;fill:var(--ink)}.train-id,.number,.limit-word,.levels text,.used{paint-order:stroke;stroke:var(--sheet);stroke-width:3px;stroke-linejoin:round}.time-distance text{font-size:13px}
.axis text,.picture .quiet{fill:var(--quiet)}
.grid{stroke:var(--faint);fill:none}.tick{stroke:var(--quiet);fill:none}
.level{stroke:var(--line);stroke-width:1.5}.lead-in{stroke-dasharray:6 5}
.band,.picture .number,.levels text{font-weight:600}
.train polyline{fill:none;stroke:var(--train);stroke-width:1.2}.lone{fill:var(--train)}
.warned polyline{stroke:var(--ink);stroke-width:1.9}.picture .train-id{font-size:11px;fill:var(--quiet)}
.unheard rect{fill:var(--quiet);opacity:.45}
.mark{stroke-width:2}.mark.watch{fill:var(--sheet);stroke:var(--watch)}.mark.warn{fill:var(--warn);stroke:var(--sheet)}
.mark.limit{fill:var(--limit);stroke:var(--sheet)}.mark-bar{stroke:var(--mark-bar);stroke-width:2}
.side{fill:var(--side);opacity:.75}.side-middle{fill:none;stroke:var(--quiet);stroke-dasharray:2 3}
.limit-line{stroke:var(--limit);stroke-width:2;fill:none}.picture .limit-word{fill:var(--limit);font-weight:600}
.fan{fill:var(--fan);opacity:.4}.fan-middle{fill:none;stroke:var(--warn);stroke-width:2;stroke-dasharray:8 5}
.bracket{fill:none;stroke:var(--warn);stroke-width:2.5}
.levelled-line{fill:none;stroke:var(--ink);stroke-width:1.6}.later-line{fill:none;stroke:var(--quiet);stroke-dasharray:1 3}.levelled{fill:var(--ink)}.bar{stroke:var(--ink);fill:none}
.raw{fill:none;stroke:var(--ink);stroke-width:1.4}.missing path{stroke:var(--quiet);stroke-width:2}
.picture .used{fill:var(--quiet)}.reached{stroke:var(--quiet);stroke-dasharray:1 4;fill:none}
.at-site{stroke:var(--ink);stroke-width:2}.picture .ahead{fill:var(--quiet)}.place{fill:var(--quiet)}.chosen{fill:var(--ink);stroke:var(--ink);stroke-width:1.5}
.legend{list-style:none;padding:0;margin:8px 0;display:flex;flex-wrap:wrap;gap:4px 22px;font-size:.88rem;color:var(--quiet)}
.legend svg{width:34px;height:16px;vertical-align:-3px;margin-right:6px}
@media print{:root{--ground:#fff;--sheet:#fff;--ink:#000;--quiet:#444;--line:#999;--faint:#ddd;--watch:#333;--warn:#333;--limit:#000;--mark-bar:#fff;--side:#ccc;--fan:#999;--train:#888;--link:#000}
body{font-size:10.5pt}nav,.skip{display:none}header,main,footer{max-width:none;padding:0}
.scroll{overflow:visible}.time-distance,.curve{min-width:0}.warning{border:0;padding:0}.warning+.warning{break-before:page}
.picture,tr,.advice,.key{break-inside:avoid}h2,h3,h4,caption{break-after:avoid}thead{display:table-header-group;break-after:avoid}
.columns{grid-template-columns:2fr 3fr;gap:0 18px;font-size:9pt}.columns dl div{grid-template-columns:9em 1fr;padding:1px 0}
table{font-size:8.5pt}th,td{padding:2px 5px}.sample{min-width:0}details::details-content{content-visibility:visible;display:block}}
`;
