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


def words(page: Any) -> dict[str, int]:
    """Count the words that can be seen on a page."""
    return page.evaluate(VISIBLE)
