"""How the panels look in the browser: one style sheet, and the sizes of the frame that every panel sits in."""

from __future__ import annotations

LETTER = "var(--jp-widgets-font-size)"
"""Size of letters in the panels [screen pixels]: 13, or 20 where they are large."""
SIDE = 19.0
"""Width of the column of controls [letters]."""
PICTURE = 660
"""Width of a picture at letters of 13 pixels; with larger letters it is as much larger [screen pixels]."""
TALLEST = 480
"""Height that a picture may have, so that picture and verdict are seen at once on a small laptop [screen pixels]."""
CSS = f"""<style>
.vd-panel {{--jp-widgets-inline-label-width: auto; position: relative}}
.vd-panel .lm-TabBar-tab, .jupyter-widget-tab .lm-TabBar-tab, .vd-panel .jupyter-widget-Collapse-header
 {{color: #003A5D !important}}
.vd-panel .jupyter-widget-tab {{--jp-widgets-horizontal-tab-width: auto; --jp-widgets-container-padding: 4px}}
.vd-panel .widget-checkbox input, .vd-panel .widget-radio-box input {{vertical-align: middle}}
.vd-panel .vd-main {{display: flex; flex-flow: row wrap; align-items: flex-start; gap: 6px 12px; overflow: visible}}
.vd-panel .vd-side {{flex: 0 0 calc({SIDE} * {LETTER}); width: calc({SIDE} * {LETTER}); overflow: visible}}
.vd-panel .vd-stage {{flex: 1 1 300px; min-width: 0; overflow: visible}}
.vd-panel .vd-picture {{max-width: 100%; height: auto; margin: 0; object-fit: contain}}
.vd-panel .vd-stage .vd-picture {{width: 100%}}
.vd-panel .vd-verdict {{font-size: calc(1.23 * {LETTER}); line-height: 1.35; min-height: 2.7em; font-weight: 600}}
.vd-panel .vd-verdict p {{margin: 0}}
.vd-panel .vd-former {{opacity: 0.12; pointer-events: none}}
.vd-panel .vd-stale {{filter: grayscale(1) opacity(0.45)}}
.vd-panel .vd-control {{margin: 0; max-width: 100%; flex: 0 0 auto; height: auto; overflow: visible}}
.vd-panel .vd-side .widget-inline-hbox, .vd-panel .vd-top .widget-slider {{height: auto}}
.vd-panel .vd-side .widget-slider, .vd-panel .vd-side .widget-dropdown, .vd-panel .vd-side .widget-text
 {{flex-flow: row wrap; width: auto; max-width: 100%; margin: 1px 0}}
.vd-panel .vd-side .widget-slider > .widget-label, .vd-panel .vd-side .widget-dropdown > .widget-label,
.vd-panel .vd-side .widget-text > .widget-label
 {{flex: 1 0 100%; text-align: left; height: auto; line-height: 1.3; white-space: normal; margin: 0}}
.vd-panel .vd-side .widget-slider .slider-container {{flex: 1 1 60px; min-width: 60px}}
.vd-panel .vd-side .widget-slider {{line-height: 1.5}}
.vd-panel .widget-tab .widget-slider {{width: auto; max-width: 100%}}
.vd-panel .widget-tab .widget-slider .slider-container {{flex: 1 0 110px; min-width: 110px}}
.vd-panel .vd-side .widget-readout {{min-width: 3em; margin-left: 2px; height: auto}}
.vd-panel .vd-side .widget-dropdown select {{flex: 1 1 100%; width: 100%}}
.vd-panel .vd-side .widget-text input {{flex: 1 1 100%; width: 100%}}
.vd-panel .vd-side .widget-checkbox, .vd-panel .vd-side .widget-checkbox .widget-label-basic
 {{width: 100%; height: auto; white-space: normal; overflow: visible; line-height: 1.4}}
.vd-panel .vd-with-unit {{display: flex; flex-flow: row nowrap; align-items: flex-end; overflow: visible}}
.vd-panel .vd-with-unit > .widget-slider {{flex: 1 1 100px; min-width: 0}}
.vd-panel .vd-side .vd-with-unit:has(> .vd-number) > .widget-slider .slider-container
 {{margin: calc(0.7 * {LETTER}) 0 calc(0.5 * {LETTER})}}
.vd-panel .vd-with-unit > .widget-html {{flex: 0 0 auto; margin: 1px 0; height: auto}}
.vd-panel .vd-with-unit > .widget-html > .widget-html-content {{line-height: 1.6; padding-bottom: 4px}}
.vd-panel .vd-with-unit > .vd-number {{flex: 0 0 5.2em; width: 5.2em; margin: 1px 0 1px 2px; height: auto}}
.vd-panel .vd-with-unit > .vd-number input {{width: 100%; min-width: 0; text-align: right; padding: 0 3px}}
.vd-panel .vd-fold .jupyter-widget-Collapse-header
 {{border: none; background: none; color: #00416A; padding: 0; line-height: 1.5}}
.vd-panel .vd-fold .jupyter-widget-Collapse-contents {{border: none; padding: 2px 0}}
.vd-panel .vd-side button
 {{width: auto; max-width: 100%; white-space: normal; height: auto; line-height: 1.5; text-align: left}}
.vd-panel .vd-side .jupyter-widget-Collapse-contents {{padding: 2px 4px}}
.vd-panel .vd-side .jupyter-widget-Collapse-header {{padding: 3px 6px; line-height: 1.5; color: #000}}
.vd-panel .vd-alert {{border-left: 5px solid #D55E00; background: #FFF4E5; color: #000; padding: 4px 10px}}
.vd-panel table.vd-numbers {{border-collapse: collapse; font-size: {LETTER}}}
.vd-panel table.vd-numbers th, .vd-panel table.vd-numbers td {{padding: 2px 12px 2px 0; text-align: right}}
.vd-panel table.vd-numbers th:first-child {{text-align: left; font-weight: normal}}
.vd-panel table.vd-numbers thead th {{border-bottom: 1px solid #767676; font-weight: bold}}
.vd-panel .vd-alt {{position: absolute; width: 1px; height: 1px; margin: 0; overflow: hidden; clip-path: inset(50%)}}
.vd-panel .vd-question {{font-size: calc(1.15 * {LETTER}); line-height: 1.4; margin-bottom: 6px}}
.vd-panel .vd-answer .widget-html-content {{font-size: calc(1.08 * {LETTER}); line-height: 1.4}}
.vd-panel .vd-words {{line-height: 1.45}}
.vd-panel .vd-hidden {{display: none}}
.vd-large {{--jp-widgets-font-size: 20px; --jp-widgets-inline-height: 36px; font-size: 20px}}
body[data-voila]:has(.vd-large) {{--jp-widgets-font-size: 20px; --jp-widgets-inline-height: 36px;
 --jp-ui-font-size1: 20px; --jp-code-font-size: 20px; --jp-content-font-size0: 20px; --jp-content-font-size1: 20px;
 --jp-content-font-size2: 22px; --jp-content-font-size3: 25px; --jp-content-font-size4: 29px;
 --jp-content-font-size5: 36px}}
body[data-voila] .vd-menu {{display: none}}
.vd-large input[type=checkbox], .vd-large input[type=radio] {{width: 20px; height: 20px}}
.vd-large .widget-radio-box label {{height: auto; line-height: 1.6}}
.vd-large .widget-radio-box input {{margin-top: 6px}}
</style>"""
"""The style sheet; a panel that stands alone brings it along."""
