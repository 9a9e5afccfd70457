"""What a reader meets on a page as it is rendered: the words that can be seen, and what stands in the way of some."""

from __future__ import annotations

from typing import Any

VISIBLE = """() => { const words = e => (e.data.match(/[\\p{L}\\p{N}][\\p{L}\\p{N}'’.,-]*/gu) ?? []).length;
    const root = document.querySelector('#rendered_cells'), panel = root.querySelector('.vd-panel');
    const walk = document.createTreeWalker(root, NodeFilter.SHOW_TEXT), found = {before: 0, prose: 0, panels: 0};
    for (let n = walk.nextNode(); n; n = walk.nextNode()) {
        const e = n.parentElement;
        if (e.closest('option, style, script, .vd-alt, mjx-container, [aria-hidden=true]')) continue;
        if (!e.checkVisibility({checkVisibilityCSS: true, contentVisibilityAuto: true})) continue;
        const count = words(n);
        found[e.closest('.vd-panel') ? 'panels' : 'prose'] += count;
        if (panel && n.compareDocumentPosition(panel) & Node.DOCUMENT_POSITION_FOLLOWING) found.before += count; }
    return found; }"""
"""Words that can be seen: before the first panel, in the prose of the page, and in its panels."""
BARRED = """() => { const faults = [], shown = e => e.checkVisibility({checkVisibilityCSS: true});
    const text = e => e.innerText?.trim().slice(0, 40) || e.outerHTML.slice(0, 60);
    if (!document.documentElement.lang) faults.push('the page says no language');
    if (!document.title.trim()) faults.push('the page has no title');
    if (!document.querySelector('[role=main], main')) faults.push('the page has no main part');
    // reading order: one first heading, and no level left out
    let last = 0;
    const heads = [...document.querySelectorAll('#rendered_cells :is(h1, h2, h3, h4, h5, h6)')].filter(shown);
    for (const head of heads) { const level = +head.tagName[1];
        if (level > last + 1 && !head.closest('.vd-panel')) faults.push(`heading leaves out a level: ${text(head)}`);
        if (!head.closest('.vd-panel')) last = level; }
    if (heads.filter(head => head.tagName === 'H1').length !== 1) faults.push('not one first heading');
    // names of what can be set, and of pictures
    for (const e of document.querySelectorAll('a[href], button, input, select, textarea, [role=slider]')) {
        if (!shown(e)) continue;
        const row = e.closest('.widget-inline-hbox, .widget-inline-vbox, .widget-checkbox, .widget-radio, label');
        const name = e.innerText?.trim() || e.ariaLabel || e.title || e.placeholder || e.labels?.[0]?.innerText ||
            row?.innerText || (e.getAttribute('aria-labelledby') ?? '');
        if (!name.trim()) faults.push(`without a name: ${e.outerHTML.slice(0, 80)}`);
        if (e.tabIndex < 0 && !e.disabled && e.type !== 'radio' && !e.closest('[aria-hidden=true]'))
            faults.push(`not to be reached by Tab: ${text(e)}`); }
    for (const e of document.querySelectorAll('img')) if (shown(e) && !e.alt?.trim())
        faults.push(`picture without words: ${e.className}`);
    for (const e of document.querySelectorAll('canvas')) if (shown(e) && !e.ariaLabel && !e.innerText.trim() &&
        !e.closest('[aria-label], [aria-hidden=true], figure:has(figcaption)')) faults.push('drawing without words');
    for (const e of document.querySelectorAll('details > summary')) if (!e.innerText.trim() && shown(e))
        faults.push('a line that opens says nothing');
    // contrast of text with what is behind it
    const parts = colour => { const n = colour.match(/[\\d.]+/g)?.map(Number) ?? [0, 0, 0, 0];
        const scale = colour.startsWith('color(srgb') ? 255 : 1;
        return [...n.slice(0, 3).map(x => scale * x), n[3] ?? 1]; };
    const over = (top, low) => [0, 1, 2].map(i => top[3] * top[i] + (1 - top[3]) * low[i]).concat(1);
    const behind = e => { const stack = []; for (let x = e; x; x = x.parentElement)
            stack.push(parts(getComputedStyle(x).backgroundColor));
        return stack.reverse().reduce((low, top) => over(top, low), [255, 255, 255, 1]); };
    const light = c => { const [r, g, b] = c.slice(0, 3).map(v => v / 255)
            .map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
        return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
    const seen = new Set(), walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    for (let n = walk.nextNode(); n; n = walk.nextNode()) {
        const e = n.parentElement;
        const hidden = e.closest('style, script, option, .vd-alt, .MathJax, [disabled]');
        if (!n.data.trim() || seen.has(e) || hidden) continue;
        seen.add(e);
        if (!shown(e) || e.getBoundingClientRect().width < 2) continue;
        const s = getComputedStyle(e), low = behind(e), a = light(over(parts(s.color), low)), b = light(low);
        const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05), size = parseFloat(s.fontSize);
        const large = size >= 24 || (size >= 18.66 && +s.fontWeight >= 700);
        if (ratio < (large ? 3 : 4.5)) faults.push(`contrast ${ratio.toFixed(1)}: ${n.data.trim().slice(0, 40)}`); }
    return [...new Set(faults)]; }"""
"""What stands in the way of somebody who reads by keyboard, by ear or with weak sight; contrast as of WCAG 2.1 AA."""


def words(page: Any) -> dict[str, int]:
    """Count the words that can be seen on a page, once no more come: panels do not come in their order."""
    found: dict[str, int] = {}
    for _ in range(30):
        before, found = found, page.evaluate(VISIBLE)
        if found == before:
            break
        page.wait_for_timeout(300)
    return found


def barred(page: Any) -> list[str]:
    """Return what stands in a reader's way on a page."""
    return page.evaluate(BARRED)
