"""The meaning of a word where a page uses it: on pointing, by Tab, put away by Escape, in pages and in JupyterLab."""

from vdlib.lessons.meanings import meanings

from .panels import at_rest

TIP = ".vd-meaning"


def looked_at(page, within):
    """Point at a marked word, then reach it by key; both times its own meaning is seen, and Escape puts it away."""
    term = page.locator(f"{within} .vd-term:visible:not(details *)").first
    term.wait_for(timeout=30_000)
    at_rest(page)  # words that are said anew take the marked one away
    term.scroll_into_view_if_needed()  # what is off the screen has no words
    meaning = meanings()[term.text_content().lower()]
    tip = page.locator(TIP)
    assert not tip.is_visible()
    term.hover()
    tip.wait_for(state="visible")
    assert tip.inner_text() == meaning
    page.keyboard.press("Escape")
    tip.wait_for(state="hidden")
    page.mouse.move(0, 0)
    term.focus()
    tip.wait_for(state="visible")
    assert term.get_attribute("aria-describedby") == tip.get_attribute("id")
    assert term.get_attribute("tabindex") == "0"
    box = tip.bounding_box()
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= page.viewport_size["width"]
    page.keyboard.press("Escape")


def meanings_of(page):
    """Look at a marked word in the text of a page and at one in a panel; in neither is a word marked twice."""
    looked_at(page, ".jp-RenderedMarkdown")
    looked_at(page, ".vd-panel")
    texts = page.evaluate(
        "[...document.querySelectorAll('.jp-RenderedMarkdown .vd-term')].filter(e => !e.closest('details'))"
        ".map(e => e.textContent.toLowerCase())"
    )
    said = [meanings()[text] for text in texts]
    assert said
    stops = page.evaluate(
        "[...document.querySelectorAll('.vd-words, .vd-verdict')]"
        ".map(e => [...e.querySelectorAll('.vd-term')].filter(t => !t.closest('details')).map(t => t.dataset.meaning))"
    )
    assert all(len(block) == len(set(block)) for block in stops)  # and once in what a panel says
    assert len(said) == len(set(said))  # in the text of a page each word is marked once
