"""Style and script of the customer's page."""

from __future__ import annotations

from typing import Final

CSS: Final = """
:root{--ground:#fbfbf9;--ink:#23292e;--soft:#5b656d;--rule:#d5d9d6;--warn:#8a4b00;color-scheme:light}
@media screen and (prefers-color-scheme:dark){:root{--ground:#16191c;--ink:#e4e8ea;--soft:#9aa4ac;--rule:#343a40;
--warn:#ffb26b;color-scheme:dark}}
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
@media (max-width:480px){body{padding:8px}#view,#film{--tb-height:75vh}}
@media print{#live{display:none!important}.live .still{display:block}section{break-inside:avoid}body{font-size:10.5pt;max-width:none}}
"""
"""On paper, and without a script, a picture stands in place of the 3-D view."""

SCRIPT: Final = """
(()=>{const id=(n)=>document.getElementById(n),things=JSON.parse(id("data").textContent),V=tinbookViewer;
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
