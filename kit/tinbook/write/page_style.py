"""Style and script of the customer's page."""

from __future__ import annotations

from typing import Final

CSS: Final = """
:root{--ground:#fbfbf9;--ink:#23292e;--soft:#5b656d;--rule:#d5d9d6;--warn:#8a4b00;color-scheme:light}
@media screen and (prefers-color-scheme:dark){:root{--ground:#16191c;--ink:#e4e8ea;--soft:#9aa4ac;--rule:#343a40;
--warn:#ffb26b;color-scheme:dark}
.tb-mark,.tb-mark path{stroke:#5fc48a}}
body{margin:0 auto;padding:12px 16px;max-width:1100px;background:var(--ground);color:var(--ink);font:15px/1.5 system-ui,sans-serif}
h1{font-size:1.5em;margin:.2em 0}h2{font-size:1.2em;margin:.8em 0 .2em}h3{font-size:1em;margin:.8em 0 .2em}p{margin:.3em 0}
#view,#film{--tb-height:min(62vh,560px)}#live{margin:8px 0}
select,#fold{font:inherit;min-height:28px;max-width:100%}[hidden]{display:none!important}
section.thing,section.warn{border-top:1px solid var(--rule);overflow-x:auto}
.warn p,.warn li{color:var(--warn)}.still img{max-height:46vh}
table{border-collapse:collapse;font-size:.95em}caption{text-align:left;font-weight:bold}
th,td{text-align:left;vertical-align:top;border-bottom:1px solid var(--rule);padding:2px 10px 2px 0}
footer{color:var(--soft);margin-top:1em;font-size:.87em;overflow-wrap:anywhere}
.live .still{display:none}
@media (max-width:480px){body{padding:8px}#view,#film{--tb-height:75vh}.tb-plane:has(.tb-parts:not([hidden])){height:auto}table{font-size:.85em}table:has(thead){min-width:50em}}
@media print{#live{display:none!important}.live .still{display:block}h2,h3,caption{break-after:avoid}
img,svg,tr,li{break-inside:avoid}.still img{max-height:80mm}svg{max-height:150mm}body{font-size:10.5pt;max-width:none}}
"""
"""On paper, and without a script, a picture stands in place of the 3-D view."""

VIEWER_WORDS: Final = (
    *("look from", "look from …", "above", "below", "front", "rear", "left", "right", "corner"),
    *("panel", "hole", "bought item"),
    *("section", "no section", "cut across x", "cut across y", "cut across z", "place of the section", "other half"),
    *("whole part", "show the whole part (key 0)", "whole blank", "show the whole blank (key 0)", "fit"),
    *("measure", "measure between two points (key m)", "press the second point", "put together", "apart"),
    *("press the first point, or Enter for the marked feature", "the step before", "play the steps", "the step after"),
    *(
        "how far the fold is formed",
        "play",
        "stop",
        "◂ step",
        "step ▸",
        "{what}; turned {n}°",
        "show {what}",
        "row {n}",
        "hold still",
        "let it swing",
    ),
    *(
        "clashes with {what}",
        "is welded to {what}",
        "is bolted or pinned to {what}",
        "Show the finished part",
        "Show how it is folded",
    ),
    "Assembly of {n} members. Arrow keys turn it, N and P step through them.",
    "Folded part, {what}. Arrow keys turn it, N and P step through its features.",
)
"""What the 3-D view says of itself; the page puts another language in its place."""
LEGEND: Final = {"fold": "Fold", "weld": "Welds", "bead": "beads"}
"""Words of its legend that are verbs elsewhere, and the texts of the table for them."""

SCRIPT: Final = """
(()=>{const id=(n)=>document.getElementById(n),things=JSON.parse(id("data").textContent),V=tinbookViewer;
const said=JSON.parse(id("words").textContent).map(([from,to])=>[new RegExp(from),to]);
const say=(t)=>{const s=t.trim(),w=s&&said.find(([from])=>from.test(s));return w?t.replace(s,s.replace(w[0],w[1])):t};
const fit=(n)=>{if(n.nodeType===3){if(!n.data.trim().includes(" ")&&!/^(OPTION|BUTTON|LABEL)$/.test(n.parentNode?.nodeName)&&!n.parentNode?.closest(".tb-legend"))return;const t=say(n.data);if(t!==n.data)n.data=t;return}if(n.nodeType!==1)return;
for(const a of ["aria-label","title","aria-valuetext"]){const v=n.getAttribute(a),t=v&&say(v);if(v&&t!==v)n.setAttribute(a,t)}
n.childNodes.forEach(fit)};
if(said.length)new MutationObserver((all)=>all.forEach((m)=>{m.type==="childList"?m.addedNodes.forEach(fit):fit(m.target)})).observe(
id("live"),{subtree:true,childList:true,characterData:true,attributes:true,attributeFilter:["aria-label","title","aria-valuetext"]});
const open=(o)=>{for(const k of ["positions","triangles","group_of","edges"])if(typeof o[k]==="string")o[k]=V.bytes(o[k]);return o};
id("live").hidden=false;document.body.classList.add("live");
const pair=new V.Pair(id("view"),{plane:things.some((t)=>t.svg)});
let now=null,step=0,shown=0,film=null;const fold=id("fold"),place=id("film");
const turn=(n)=>{const f=now.folds;step=n;film.set({...f,...f.steps[n],first:n===0,last:n===f.steps.length-1,stamp:++shown})};
const folding=(on)=>{if(!fold)return;place.hidden=!on;fold.setAttribute("aria-expanded",String(on));
fold.textContent=on?"Show the finished part":"Show how it is folded";id("view").hidden=on;if(!on){film?.run(false);return}
film??=new V.Film(place,{step:(by)=>{const n=step+by;if(n>=0&&n<now.folds.steps.length)turn(n)}},{tools:false});
const f=now.folds;if(!f.open){Object.values(f.bodies).forEach(open);
for(const s of f.steps)for(const m of s.members)m.track=V.bytes(m.track);f.open=true}turn(0)};
if(fold)fold.onclick=()=>folding(place.hidden);
const show=(k)=>{const t=now=things[k];if(fold){folding(false);id("folding").hidden=!t.folds}
pair.highlight("");
if(t.members){Object.values(t.bodies).forEach(open);pair.setMembers(t,k+1)}
else{open(t);pair.update({positions:t.positions,triangles:t.triangles,groupOf:t.group_of,edges:t.edges,
groups:t.groups.map(([name,kind],i)=>({name,kind,label:t.labels[i]??name})),stamp:k+1,svg:t.svg||""})}
pair.folded?.look("fit")};
const choice=id("choice");if(choice)choice.onchange=()=>show(Number(choice.value));show(0)})();
"""
