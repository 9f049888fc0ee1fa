namespace MeshTrace.Reports.Page;

/// <summary>The style sheet: one column for phone, screen and paper, light and dark. Every colour of text stands at 4.5:1 or more on its ground.</summary>
internal static class PageStyle
{
    public const string Text =
        """

        :root{--ground:#fff;--ink:#1b1f24;--quiet:#535c66;--line:#c4cad1;--head:#eef1f4;--good:#0f5f2c;--mixed:#7a4700;--bad:#a3102a;--accent:#0b579f;--bar:#5b86b8;--faint:#748dac;--shade:#e9e4da}
        @media screen and (prefers-color-scheme:dark){:root{--ground:#14181d;--ink:#e7e9ec;--quiet:#a9b1bb;--line:#464e58;--head:#222931;--good:#7fe0a1;--mixed:#f0c070;--bad:#ff9c9c;--accent:#8fc5ff;--bar:#4f7db0;--faint:#5d7390;--shade:#2b2a26}}
        *{box-sizing:border-box}
        html{color-scheme:light dark;-webkit-text-size-adjust:100%}
        body{margin:0 auto;padding:1rem;max-width:72rem;background:var(--ground);color:var(--ink);font:1rem/1.5 system-ui,sans-serif;overflow-wrap:anywhere}
        h1{font-size:1.5rem;line-height:1.25;margin:.5rem 0 1rem}
        h2{font-size:1.25rem;line-height:1.3;margin:2.2rem 0 .6rem;padding-top:.6rem;border-top:2px solid var(--line)}
        h3{font-size:1.05rem;margin:1.4rem 0 .4rem}
        h4{font-size:1rem;margin:1rem 0 .3rem}
        p{margin:.35rem 0;max-width:70ch}
        ul{margin:.4rem 0;padding-left:1.3rem}
        li{max-width:70ch;margin:.3rem 0}
        .in{padding-left:1.3rem}
        a{color:var(--accent)}
        nav ul{display:flex;flex-wrap:wrap;gap:.3rem 1.1rem;list-style:none;padding:0}
        nav li{margin:0}
        nav a{display:inline-block;padding:.25rem 0}
        .strong{font-weight:600}
        .quiet,.quiet-label{color:var(--quiet);fill:var(--quiet)}
        .good{color:var(--good)}.mixed{color:var(--mixed)}.bad{color:var(--bad)}
        td.good,td.mixed,td.bad,dt{font-weight:600}
        li.good,li.mixed,li.bad{color:inherit}
        li.bad::marker{color:var(--bad)}li.mixed::marker{color:var(--mixed)}
        .mark{font-weight:600;font-variant-numeric:tabular-nums}
        .note{border-left:4px solid var(--mixed);padding-left:.6rem}
        .scroll{overflow-x:auto;margin:.8rem 0;max-width:100%}
        .scroll:focus-visible,a:focus-visible,button:focus-visible{outline:3px solid var(--accent);outline-offset:2px}
        table{border-collapse:collapse;font-size:.92rem;font-variant-numeric:tabular-nums;overflow-wrap:normal}
        caption{text-align:left;font-weight:600;padding:.3rem 0;color:var(--ink)}
        th,td{text-align:left;vertical-align:top;padding:.3rem .7rem .3rem .4rem;border-bottom:1px solid var(--line);max-width:22rem}
        thead th{background:var(--head);vertical-align:bottom}
        tbody th{font-weight:600}
        .number{text-align:right}
        td.number{white-space:nowrap}
        .long{overflow-wrap:anywhere;min-width:7rem}
        @media screen and (max-width:48rem){td:not(.number):not(:nth-child(-n+3)){min-width:8rem}}
        dl{margin:.6rem 0}
        dl.legend div{display:grid;grid-template-columns:5rem 1fr;gap:.6rem;padding:.2rem 0}
        dd{margin:0;max-width:66ch}
        dl.sign div{display:grid;grid-template-columns:8rem 1fr;gap:.6rem;padding:.9rem 0 0}
        dl.sign dd{border-bottom:1px solid var(--ink);max-width:none}
        ul.boxes{list-style:none;padding-left:0}
        ul.boxes li{display:grid;grid-template-columns:1.1rem 1fr;gap:.5rem}
        ul.boxes li::before{content:"";width:.85rem;height:.85rem;margin-top:.3rem;border:1.5px solid var(--ink)}
        figure{margin:1rem 0}
        figcaption{font-weight:600}
        .tools{display:flex;flex-wrap:wrap;gap:.4rem;margin:.4rem 0}
        .tools button{font:inherit;min-width:2.75rem;min-height:2.75rem;padding:.2rem .7rem;border:1px solid var(--line);border-radius:.4rem;background:var(--head);color:var(--ink);cursor:pointer}
        .drawing{border:1px solid var(--line);border-radius:.4rem;padding:.3rem}
        .drawing>svg{display:block;width:100%;min-width:44rem;height:auto;font:13px system-ui,sans-serif}
        svg text{fill:var(--ink)}svg .quiet-label{fill:var(--quiet)}
        .guide{stroke:var(--line);stroke-width:1;fill:none}
        .tick{stroke:var(--line);stroke-width:1;stroke-dasharray:2 4;fill:none}
        .bar{fill:var(--bar)}
        .interval,.setting{stroke:var(--ink);stroke-width:2;fill:none}
        .setting{stroke-width:3}
        .sent{stroke:var(--bar);stroke-width:7;fill:none}
        .relayed{stroke:var(--faint);stroke-width:5;fill:none}
        .note-mark text{paint-order:stroke;stroke:var(--ground);stroke-width:4px;font-weight:600}
        .deaf{stroke:var(--quiet)}
        .deaf-shade{fill:var(--shade)}
        .hatch{stroke:var(--ink);stroke-width:1;fill:none}
        .press path{stroke:currentColor;stroke-width:2;fill:currentColor}
        .press.good path{stroke:var(--ground);stroke-width:1}
        .press.quiet path{fill:var(--ground)}
        .press.bad path{stroke-width:3}
        .box{fill:var(--head);stroke:var(--quiet);stroke-width:1}
        .relay-box{stroke:var(--accent);stroke-width:3}
        .link{stroke:var(--quiet);fill:none}
        .back{stroke-dasharray:6 4}
        .arrow{fill:var(--ink)}
        .told{cursor:help}
        .told:hover{filter:brightness(1.25)}
        .link.told:hover,.chosen.link{stroke:var(--accent)}
        .tip{position:absolute;z-index:2;max-width:min(22rem,90vw);padding:.35rem .6rem;border:1px solid var(--ink);border-radius:.3rem;background:var(--ground);color:var(--ink);font-size:.9rem;pointer-events:none}
        footer{margin-top:2rem;border-top:2px solid var(--line);color:var(--quiet);font-size:.9rem}
        @page{size:A4;margin:14mm 13mm}
        @media print{
        body{max-width:none;padding:0;font-size:10pt;line-height:1.35}
        nav,.tools,.tip{display:none}
        h1{font-size:16pt}h2{font-size:13pt;margin-top:14pt}h3{font-size:11pt}
        h2,h3,h4,caption,figcaption{break-after:avoid}
        .scroll{overflow:visible}
        .drawing{border:0;padding:0}
        figure,tr,li,dl.sign,.note{break-inside:avoid}
        .drawing>svg{min-width:0;max-height:235mm}
        table{width:100%;font-size:8.5pt}
        th,td{padding:1.2mm 1.5mm 1.2mm 1mm;max-width:none}
        thead{display:table-header-group}
        p,li,dd{max-width:none;orphans:2;widows:2}
        .sheet{break-before:page}
        .sheet h2{border-top:0}
        }

        """;
}
