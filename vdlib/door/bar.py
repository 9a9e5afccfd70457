"""The bar over every page without code: where am I, back, on, the start and the words; letters and print."""

from __future__ import annotations

from html import escape

from .course import COURSE, START, WORDS, Page, after, before

STYLE = """
#door-bar {display: flex; flex-wrap: wrap; gap: 4px 18px; align-items: center; padding: 6px 16px; background: #F2F4F7;
 border-bottom: 1px solid #767676; color: #000; font: 15px/1.4 sans-serif}
#door-bar a, #door-bar button {color: #003E6B; font: inherit; background: none; border: none; padding: 4px;
 cursor: pointer; text-decoration: underline}
#door-bar a:focus-visible, #door-bar button:focus-visible, details > summary:focus-visible, a:focus-visible
 {outline: 3px solid #0072B2; outline-offset: 1px}
#door-bar [aria-current] {color: #000; font-weight: bold; text-decoration: none}
#door-bar .door-on {margin-left: auto; font-weight: bold}
#door-bar .door-skip {position: absolute; left: -9999px}
#door-bar .door-skip:focus {left: 4px; z-index: 1; background: #F2F4F7}
#door-bar.vd-large {font-size: 20px}
.vd-large-switch {display: none !important}
@media screen {html, body {height: 100%; overflow: hidden} body {display: flex; flex-direction: column}
 #main {flex: 1; min-height: 0; height: auto !important} #door-bar {flex: none}}
#loading {padding: 20vh 0; text-align: center; font: 20px sans-serif; color: #333}
#rendered_cells > div {max-width: 1340px; margin: 0 auto; padding: 0 8px}
#rendered_cells h1 {margin: 4px 0 10px; padding: 0}
#rendered_cells .jp-Cell:first-child {padding-top: 0}
details > summary {cursor: pointer}
@media print {#door-bar, .vd-control, .vd-fold, .vd-panel button, .vd-panel input, .vd-panel .widget-dropdown
  {display: none !important}
 html, body, #main, #jp-main-content-panel, #rendered_cells {display: block !important; position: static !important;
  contain: none !important; overflow: visible !important; height: auto !important; width: auto !important}
 .vd-panel, img, table, details {break-inside: avoid} h2, h3 {break-after: avoid} a {color: #000}}
"""
SCRIPT = """
(() => { const bar = document.getElementById('door-bar'), key = document.getElementById('door-large');
 const large = on => { bar.classList.toggle('vd-large', on); key.setAttribute('aria-pressed', on);
  document.cookie = `vd-large=${on ? 1 : 0}; path=/; max-age=31536000; samesite=strict`; };
 large(document.cookie.includes('vd-large=1'));
 key.addEventListener('click', () => large(!bar.classList.contains('vd-large')));
 document.getElementById('door-print').addEventListener('click', () => window.print());
 // a picture's words: the first behind it in the nearest box that has any, else the last before it; they may change
 const found = new WeakMap();
 const words = one => { let said = found.get(one);
  for (let box = one.parentElement; box && !said?.isConnected; box = box.parentElement) {
   const all = [...box.querySelectorAll('.vd-alt')];
   said = all.find(e => one.compareDocumentPosition(e) & Node.DOCUMENT_POSITION_FOLLOWING) ?? all.at(-1);
   if (box.matches('.vd-panel') && !box.parentElement?.closest('.vd-panel')) break; }
  if (said) found.set(one, said);
  return said; };
 const name = () => document.querySelectorAll('.vd-panel img').forEach(one => { const said = words(one);
  if (said && one.alt !== said.textContent.trim()) {
   one.alt = said.textContent.trim(); said.setAttribute('aria-hidden', 'true'); } });
 new MutationObserver(name).observe(document, {childList: true, characterData: true, subtree: true});
 window.addEventListener('pageshow', shown => { if (shown.persisted) location.reload(); });
 let opened = [];
 window.addEventListener('beforeprint', () => { opened = [...document.querySelectorAll('details:not([open])')];
  opened.forEach(one => one.open = true); });
 window.addEventListener('afterprint', () => opened.forEach(one => one.open = false));
})();
"""


def _link(page: Page, text: str, key: str, extra: str = "") -> str:
    hint = escape(f"{page.name}: {page.question}", quote=True)
    return f'<a href="{page.file}" accesskey="{key}" title="{hint}"{extra}>{text}</a>'


def bar(page: Page) -> str:
    """Return the bar of one page.

    Parameters:
        page: the page it stands over [-]

    Returns:
        HTML with its script [-]
    """
    back, on = before(page), after(page)
    step = f" (step {COURSE.index(page) + 1} of {len(COURSE)})" if page in COURSE else ""
    place = page.name if page is START else f"{page.number} {page.name}{step}"
    parts = [
        '<a class="door-skip" href="#rendered_cells">To the page</a>',
        "" if page is START else _link(START, "Start", "s"),
        f'<span aria-current="page">{escape(place)}</span>',
        _link(back, f"Back: {escape(back.name)}", "b") if back else "",
        "" if page is WORDS else _link(WORDS, "Words", "w"),
        '<button id="door-large" type="button" accesskey="l" aria-pressed="false">Large letters</button>',
        '<button id="door-print" type="button">Print</button>',
        _link(on, f"{'Course' if page is START else 'Next'}: {escape(on.name)}", "n", ' class="door-on"') if on else "",
    ]
    return f'<nav id="door-bar" aria-label="Pages">{"".join(parts)}</nav><script>{SCRIPT}</script>'
