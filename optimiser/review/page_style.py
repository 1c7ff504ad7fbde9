"""The style sheet of the report: light, dark and paper, from phone to desk."""

from typing import Final

from optimiser.review.palette import DARK, LIGHT, css_variables

STYLE: Final = f"""
:root{{color-scheme:light dark;{css_variables(LIGHT)}}}
@media (prefers-color-scheme:dark){{:root{{{css_variables(DARK)}}}}}
*{{box-sizing:border-box}}
body{{margin:0 auto;max-width:70rem;padding:1rem;background:var(--fig-paper);color:var(--fig-ink);
font:1rem/1.5 system-ui,"DejaVu Sans",sans-serif}}
h1{{font-size:1.6rem;line-height:1.2;margin:.5rem 0}}
h2{{font-size:1.2rem;margin:2rem 0 .5rem;border-bottom:2px solid var(--fig-grid);padding-bottom:.2rem}}
a{{color:var(--fig-belief)}}
:focus-visible{{outline:3px solid var(--fig-belief);outline-offset:2px}}
.lead{{font-size:1.15rem}}
.quiet{{color:var(--fig-quiet)}}
.keep{{border:2px solid var(--fig-pick);border-radius:.5rem;padding:1rem;margin:1rem 0}}
.keep h2{{border:0;margin:0 0 .5rem}}
.keep dl{{display:grid;grid-template-columns:repeat(auto-fit,minmax(8.5rem,1fr));gap:.75rem 1.5rem;margin:0 0 .75rem}}
.keep dt{{color:var(--fig-quiet)}}
.keep dd{{margin:0;font-size:1.6rem;font-weight:700;line-height:1.2;overflow-wrap:anywhere}}
.keep dd.order{{font-size:1.2rem}}
.keep .wide{{grid-column:1/-1}}
.figures{{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(100%,26rem),1fr));gap:1.5rem;align-items:start}}
figure{{margin:0;min-width:0}}
figure svg{{display:block;width:100%;max-width:36rem;height:auto}}
summary{{cursor:pointer;padding:.6rem 0;color:var(--fig-belief)}}
.scroll{{overflow-x:auto}}
table{{border-collapse:collapse;width:100%;font-variant-numeric:tabular-nums}}
caption{{text-align:left;color:var(--fig-quiet);padding-bottom:.3rem}}
th,td{{text-align:left;vertical-align:top;padding:.35rem .6rem .35rem 0;border-bottom:1px solid var(--fig-grid)}}
thead th{{border-bottom:2px solid var(--fig-quiet)}}
tr.best{{font-weight:700}}
tr.out td,tr.out th{{color:var(--fig-quiet)}}
.trials .settings,.trials .changed{{min-width:11rem}}
.trials .overall,.trials .articulation{{white-space:nowrap}}
li{{margin:.25rem 0}}
@media (max-width:44rem){{
.trials thead{{position:absolute;clip-path:inset(50%);height:1px;overflow:hidden;width:1px;white-space:nowrap}}
.trials tr{{display:block;border-bottom:2px solid var(--fig-quiet);padding:.5rem 0}}
.trials th,.trials td{{display:grid;grid-template-columns:7.5rem 1fr;border:0;padding:.1rem 0}}
.trials td.none{{display:none}}
.trials th::before,.trials td::before{{content:attr(data-label);color:var(--fig-quiet);font-weight:400}}
}}
@media print{{
:root{{color-scheme:light;{css_variables(LIGHT)}--fig-ink:#000}}
body{{max-width:none;padding:0;font-size:10pt}}
.figures{{grid-template-columns:1fr 1fr}}
figure,.keep,tr{{break-inside:avoid}}
figure svg{{max-width:7.4cm}}
.trials{{font-size:8.5pt;line-height:1.3}}
.trials .settings,.trials .changed{{min-width:0}}
.scroll{{overflow:visible}}
h2{{break-after:avoid}}
details:not([open]){{display:none}}
}}
"""
"""On narrow screens each trial becomes a block of its own; on paper closed tables are left out."""
