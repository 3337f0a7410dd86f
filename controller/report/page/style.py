"""How the page looks: by day, by night and on paper, on a telephone and on a desk."""

# Every colour of words has a contrast of at least 4.5 to 1 with its ground, every mark at least 3 to 1 (WCAG
# 2.2, 1.4.3 and 1.4.11); tests/report measures them.
LIGHT = {
    "paper": "#fbfaf5",
    "rail": "#ecebe0",
    "ink": "#22261f",
    "quiet": "#555b4e",
    "rule": "#d5d4c6",
    "outdoors": "#3f75a8",
    "house": "#1f6b45",
    "roof": "#b3452f",
    "soil": "#6d4324",
    "outlet": "#8a6512",
    "into": "#c07a1e",
    "out": "#3f75a8",
    "cool": "#2b8a86",
    "wet": "#4d6fb0",
    "other": "#7d8274",
    "hatch": "#fbfaf5",
    "frost": "#7a3b63",
}
DARK = {
    "paper": "#191c17",
    "rail": "#2a2e27",
    "ink": "#e9e7dc",
    "quiet": "#b3b7a8",
    "rule": "#41463c",
    "outdoors": "#7fb0dd",
    "house": "#79c598",
    "roof": "#ee8f78",
    "soil": "#d0a27a",
    "outlet": "#dcbb62",
    "into": "#e2a44c",
    "out": "#7fb0dd",
    "cool": "#6cc5bf",
    "wet": "#93aee6",
    "other": "#9da393",
    "hatch": "#191c17",
    "frost": "#d79bc2",
}
PRINT = LIGHT | {"paper": "#ffffff", "hatch": "#ffffff"}


def _variables(colours: dict[str, str]) -> str:
    return "".join(f"--{name}:{colour};" for name, colour in colours.items())


_RULES = """
*{box-sizing:border-box}
html{background:var(--paper);color:var(--ink);font:17px/1.55 Charter,"Bitstream Charter","Sitka Text",
Cambria,Georgia,serif;
-webkit-text-size-adjust:100%}
body{margin:0 auto;max-width:60rem;padding:1.2rem 1rem 3rem}
header{border-top:.5rem solid var(--soil);padding-top:1rem}
h1{font-size:clamp(1.6rem,4.6vw,2.6rem);line-height:1.15;margin:.2rem 0 .8rem;font-weight:600;
text-wrap:balance}
h2{font-size:1.45rem;line-height:1.25;margin:2.6rem 0 .6rem;padding-top:.7rem;
border-top:1px solid var(--rule)}
h3{font-size:1.12rem;margin:1.8rem 0 .3rem}
p{margin:.5rem 0;max-width:44rem}
.where,.note,.range,footer,caption,summary,.legend{color:var(--quiet)}
.where{margin:0}
.where b{color:var(--ink)}
.lede{font-size:1.08rem}
.note,footer{font-size:.9rem}
.missing{border-left:.25rem solid var(--into);padding-left:.8rem}
.figures{margin:1rem 0;border-top:1px solid var(--rule)}
.figures>div{display:grid;grid-template-columns:13rem 1fr;gap:0 1.4rem;padding:.7rem 0;
border-bottom:1px solid var(--rule)}
dt{font-weight:600}
dd{margin:0;display:flex;flex-wrap:wrap;align-items:baseline;gap:.1rem .8rem}
dd p{flex-basis:100%;margin:0;font-size:.92rem}
.value{font-size:1.5rem;line-height:1.2;font-weight:600;font-variant-numeric:tabular-nums}
.value.none{font-weight:400;color:var(--quiet)}
.scale{align-self:center;overflow:visible}
.scale .zero{stroke:var(--quiet);stroke-width:1}
.scale .base{stroke:var(--rule);stroke-width:1}
.scale .reach{stroke:var(--house);stroke-width:3}
.scale .dot{fill:var(--ink)}
figure{margin:1rem 0 0;break-inside:avoid}
.chart{display:block;width:calc(100% - 3.4rem);margin-left:3.2rem;overflow:visible;font:12px/1 system-ui,
sans-serif}
.legend{list-style:none;display:flex;flex-wrap:wrap;gap:.1rem 1.2rem;margin:.4rem 0 .5rem;padding:0;
font:14px/1.5 system-ui,sans-serif}
.swatch{margin-right:.45rem;vertical-align:-1px}
.grid{stroke:var(--rule);stroke-width:1;shape-rendering:crispEdges}
.tick{fill:var(--quiet)}
.row{fill:var(--ink)}
.level{stroke:var(--frost);stroke-width:1.5;stroke-dasharray:2 3}
.line,.edge{fill:none;vector-effect:non-scaling-stroke;stroke-linejoin:round;stroke-linecap:round;
stroke-width:1.6}
.edge.high{stroke-width:.6}
.edge.low{stroke-width:1.8}
.area{stroke:none}
.line.outdoors,.edge.outdoors{stroke:var(--outdoors);stroke-dasharray:5 3}
.line.house,.edge.house{stroke:var(--house)}
.line.house{stroke-width:2.6}
.line.roof{stroke:var(--roof);stroke-dasharray:1 3.5;stroke-width:2.2}
.line.soil,.edge.soil{stroke:var(--soil)}
.line.soil{stroke-width:2.6;stroke-dasharray:12 4}
.line.outlet{stroke:var(--outlet);stroke-dasharray:9 3 1.5 3}
.area.outdoors{fill:var(--outdoors);fill-opacity:.24}
.area.house{fill:var(--house);fill-opacity:.3}
.area.soil{fill:var(--soil);fill-opacity:.9}
.bar.into{fill:var(--into)}
.bar.out{fill:var(--out)}
.bar.cool{fill:var(--cool)}
.bar.wet{fill:var(--wet)}
.bar.other{fill:var(--paper);stroke:var(--other);stroke-width:1.5}
.bar.without{fill:var(--frost);fill-opacity:.75}
.bar.rail{fill:var(--rail)}
.hatch{stroke:var(--hatch);stroke-width:1.8;fill:none}
.whisker{stroke:var(--ink);stroke-width:1.3}
details{margin:.5rem 0 0;font-size:.92rem}
summary{cursor:pointer;padding:.25rem 0}
.scroll{overflow-x:auto}
.scroll:focus-visible,summary:focus-visible{outline:2px solid var(--outdoors);outline-offset:2px}
table{border-collapse:collapse;font:14px/1.45 system-ui,sans-serif;font-variant-numeric:tabular-nums;
margin:.3rem 0}
caption{text-align:left;padding:.2rem 0}
th,td{text-align:left;vertical-align:top;padding:.25rem .9rem .25rem 0;
border-bottom:1px solid var(--rule);font-weight:400}
thead th{font-weight:600;vertical-align:bottom}
.numeric td,.numeric thead th:not(:first-child){text-align:right;padding:.25rem 0 .25rem 1.1rem}
.numeric th[scope=row],.wordy th[scope=row]{white-space:nowrap}
.wordy td{min-width:6.5rem}
.wordy td:last-child{min-width:13rem}
footer{margin-top:3rem;border-top:1px solid var(--rule)}
@media (max-width:40rem){
html{font-size:16px}
.figures>div{grid-template-columns:1fr}
.spare,.edge.high{display:none}
.edge.low{stroke-width:1.1}
.chart{width:calc(100% - 2.6rem);margin-left:2.5rem}
.wordy,.wordy tbody,.wordy tr,.wordy th,.wordy td,.wordy caption{display:block}
.wordy thead{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}
.wordy tr{padding:.35rem 0;border-bottom:1px solid var(--rule)}
.wordy th[scope=row]{font-weight:600}
.wordy th,.wordy td{border:0;padding:0}
.wordy td::before{content:attr(data-head) ": ";color:var(--quiet)}
}
@media print{
html{font-size:10.5pt}
body{max-width:none;padding:0}
*{print-color-adjust:exact;-webkit-print-color-adjust:exact}
h2,h3,section>p:not(:last-child){break-after:avoid}
p,.day,.figures>div,tr{break-inside:avoid}
.alarm table{font-size:11px}
.scroll{overflow:visible}
details:not([open]){display:none}
}
@page{margin:16mm 14mm}
"""
STYLE = (
    f":root{{{_variables(LIGHT)}}}@media (prefers-color-scheme:dark){{:root{{{_variables(DARK)}}}}}@media "
    f"print{{:root{{{_variables(PRINT)}}}}}{_RULES}"
).replace("\n", "")
