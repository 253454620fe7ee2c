// The look of a report: the lab notebook's colours and type, a dark theme on screens that ask for one, and paper.

export const reportStyle = `
:root{color-scheme:light dark;
--ground:#f5f4f0;--sheet:#fbfaf7;--ink:#1b1f1d;--soft:#59615d;--faint:#8b918d;--rule:#dad7ce;--hair:#e8e6df;
--accent:#17695d;--accent-soft:#dcebe7;--up:#225ea8;--down:#b3560f;--same:#6d736f;--band:#ebe8df;--warn:#8a5a00;
--text:"Atkinson Hyperlegible Next Variable","Atkinson Hyperlegible Next","Atkinson Hyperlegible",system-ui,sans-serif;
--mono:"Atkinson Hyperlegible Mono Variable","Atkinson Hyperlegible Mono",ui-monospace,monospace;
--s1:4px;--s2:8px;--s3:12px;--s4:20px;--s5:32px;--s6:52px}
@media screen and (prefers-color-scheme:dark){:root{
--ground:#131615;--sheet:#191d1b;--ink:#e9e7e0;--soft:#a5aca7;--faint:#7c837f;--rule:#303633;--hair:#242a27;
--accent:#62c3b1;--accent-soft:#1d332e;--up:#7fb2ea;--down:#eda566;--same:#9aa19c;--band:#232927;--warn:#d9b25f}}
*{box-sizing:border-box}
body{margin:0;background:var(--ground);color:var(--ink);font:16px/1.5 var(--text);font-variant-numeric:tabular-nums;overflow-wrap:break-word}
main,.cover{max-width:1120px;margin:0 auto;padding:0 var(--s5)}
a{color:var(--accent)}
.cover{padding-top:var(--s5)}
.line{color:var(--soft);font-size:14px;display:flex;flex-wrap:wrap;gap:var(--s1) var(--s3);align-items:baseline;margin:0}
.line b{color:var(--ink)}
.sim{border:1px dashed var(--warn);color:var(--warn);padding:0 var(--s2);border-radius:3px;font-size:13px}
h1{font-size:22px;line-height:1.3;font-weight:600;margin:var(--s2) 0;max-width:40em;text-wrap:balance}
h2{font-size:30px;line-height:1.25;font-weight:600;margin:var(--s3) 0;max-width:26em;text-wrap:balance}
.contents{border-top:1px solid var(--rule);margin-top:var(--s4);padding-top:var(--s3)}
.contents h2{font-size:17px;margin:0}.contents ol{margin:var(--s2) 0 0;padding-left:1.6em}.contents li{padding:var(--s1) 0}
article{border-top:1px solid var(--rule);margin-top:var(--s5);padding:var(--s4) 0 var(--s4)}
.v{font-weight:700}.tone-up.v{color:var(--up)}.tone-down.v{color:var(--down)}.tone-stop.v{color:var(--warn)}td .tone-same,td .tone-open{color:var(--same)}
.scope{background:var(--accent-soft);color:var(--accent);font-weight:700;border-radius:4px;padding:2px 10px;font-size:14px}
.meta{color:var(--soft);display:flex;flex-wrap:wrap;gap:var(--s1) var(--s4);margin:0 0 var(--s4);align-items:baseline}
.stop{border:1px solid var(--warn);border-left-width:6px;padding:var(--s2) var(--s3);margin:var(--s3) 0;max-width:52em}
.stop h3,.stop p{margin:0}.stop h3{font-size:15px;color:var(--warn)}
.page{display:grid;grid-template-columns:minmax(0,1fr) 250px;gap:var(--s5)}
.sheet{background:var(--sheet);border:1px solid var(--hair);padding:var(--s4)}
figure{margin:0;container-type:inline-size}
figure svg{display:none;width:100%;height:auto}
figure .fit-wide{display:block;max-width:840px}
@container (max-width:679px){figure .fit-wide{display:none}figure .fit-middle{display:block}}
@container (max-width:479px){figure .fit-middle{display:none}figure .fit-narrow{display:block;max-width:440px}}
figcaption{color:var(--soft);font-size:14px;margin-top:var(--s2)}
table{width:100%;border-collapse:collapse;margin-top:var(--s5)}
caption{text-align:left;font-size:17px;font-weight:700;padding-bottom:var(--s2)}
th{font-weight:400;text-align:left}
thead th{font-size:13px;color:var(--soft);border-bottom:1px solid var(--rule);padding:4px 8px;vertical-align:bottom}
tbody th,td{padding:6px 8px;border-bottom:1px solid var(--hair);vertical-align:baseline}
.n{text-align:right}td.n{font-family:var(--mono);font-size:15px;white-space:nowrap}
.group th{color:var(--soft);font-size:13px;padding-top:14px;border-bottom:0}
.total th,.total td{font-weight:700;border-top:1px solid var(--rule);border-bottom:0}
aside{font-size:14.5px;line-height:1.45;color:var(--soft)}
aside section{border-top:1px solid var(--rule);padding:var(--s3) 0}
aside h3{font-size:13px;margin:0 0 4px;color:var(--ink)}aside .warns h3{color:var(--warn)}
aside p,aside ul{margin:0 0 4px}aside ul{padding-left:1.2em}
.other{margin-top:var(--s5)}.other h3{font-size:20px;line-height:1.3;margin:var(--s3) 0;max-width:34em;text-wrap:balance;font-weight:600}
code{font-family:var(--mono);font-size:13px;overflow-wrap:anywhere}
@media(max-width:1060px){.page{grid-template-columns:minmax(0,1fr);gap:var(--s4)}}
@media(max-width:640px){main,.cover{padding-left:var(--s4);padding-right:var(--s4)}.sheet{padding:var(--s3)}h2{font-size:24px}
thead th,tbody th,td{padding-left:4px;padding-right:4px}td.n{font-size:14px}tbody th,td{font-size:15px}
.words-last thead,.words-last tbody{display:block}.words-last caption{display:block}
.words-last tr:not(.group){display:grid;grid-template-columns:minmax(0,1fr) repeat(var(--numbers),minmax(4.4em,auto));align-items:baseline;border-bottom:1px solid var(--hair)}
.words-last tr:not(.group)>*{border:0}.words-last thead th:last-child{display:none}
.words-last td:last-child{grid-column:1/-1;font-size:14px;padding-top:0}.words-last td:last-child:empty{display:none}
.words-last .group{display:block}.words-last .group th{display:block}}
@page{margin:16mm 15mm}
@media print{:root{--ground:#fff;--sheet:#fff}body{background:none;font-size:10.5pt}main,.cover{max-width:none;padding-left:0;padding-right:0}.cover{padding-top:0}
h1{font-size:15pt}h2{font-size:18pt}.other h3{font-size:14pt}
.page{display:block}tbody th,td{padding-top:3px;padding-bottom:3px}table{margin-top:var(--s4)}.other{margin-top:var(--s4)}.sheet{background:none;border:0;padding:0}
article{margin-top:var(--s4)}article+article{break-before:page;border-top:0;margin-top:0}
h1,h2,h3,caption,.line,.meta{break-after:avoid}table,tr,figure,.stop,aside section,.line,.meta{break-inside:avoid}.group{break-after:avoid}thead{display:table-header-group}
aside{margin-top:var(--s4);columns:2;column-gap:var(--s5)}p,li{orphans:3;widows:3}a{color:inherit;text-decoration:none}}
`
