"""What a user does with a panel: move its controls by key and mouse, walk through them by Tab, read it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from playwright.sync_api import TimeoutError as LateError

WHOLE = ".vd-panel:not(.vd-panel .vd-panel):has(select, button, input, textarea)"
"""A chooser with what is under it, a form, or a panel that stands alone."""
LEAF = ".vd-panel:not(:has(.vd-panel)):has(.vd-control)"
"""A panel with controls of its own, not the chooser around it."""
FIELDS = "select, button, input, textarea, .noUi-handle"
"""Everything in a panel that can be set from the keyboard."""
KEYS = {
    "select": ["Space", "ArrowDown", "Enter"],  # opened first: a notebook takes the arrows of a closed list for itself
    "checkbox": ["Space"],
    "range": ["ArrowRight"] * 5,
    "text": ["a"],
}
"""What is pressed to move a control of each kind."""


AT_REST = """([still, most]) => new Promise(done => { let last = performance.now(); const first = last;
    const watch = new MutationObserver(() => { last = performance.now(); });
    watch.observe(document.body, {subtree: true, childList: true, attributes: true, attributeFilter: ['src']});
    const look = () => { const now = performance.now();
        if (document.querySelector('.vd-later')) last = now;  // a part of the page is still to come
        if (now - last < still && now - first < most) return setTimeout(look, 50);
        watch.disconnect(); done(now - last >= still); };
    look(); })"""
"""Whether nothing has come, gone or been drawn in the page for so long, within at most so long [ms]."""


def at_rest(page: Any, still: int = 300, most: int = 20_000) -> bool:
    """Wait until nothing has come, gone or been drawn in the page for so many milliseconds; give whether that was."""
    return bool(page.evaluate(AT_REST, [still, most]))


def at_last(page: Any, faults: Callable[[], list[Any]], seconds: float = 15) -> list[Any]:
    """Return what is still wrong once the page has had time to right itself: a machine under load draws late."""
    found = faults()
    for _ in range(int(seconds / 0.25)):
        if not found:
            break
        page.wait_for_timeout(250)
        found = faults()
    return found


class Shown:
    """One panel in the page."""

    def __init__(self, page: Any, box: Any) -> None:
        self.page, self.box = page, box
        self.still = True
        self.name = box.locator(".vd-control").first.inner_text().strip().split("\n")[0]

    def move(self, mouse: bool = True) -> list[str]:
        """Move its first control by key and, if wanted, its first slider by mouse; give what was wrong."""
        first = self.look()[0]
        faults = [self.by_key(), self.by_mouse() if mouse else ""]
        if self.still and first and at_last(self.page, lambda: [1] * (self.look()[0] == first)):
            faults.append(f"{self.name}: its picture stood still")
        return [fault for fault in faults if fault]

    def look(self) -> tuple[str, str]:
        """Return the address of its decoded picture, if it has one, and its words."""
        image = self.box.locator("img.widget-image.vd-picture")
        source = ""
        if image.count() and image.first.get_attribute("src"):
            source = image.first.evaluate(
                "async i => { await i.decode().catch(() => 0); return i.src; }"
            )  # fails if replaced
        return source, " ".join(self.box.locator(".vd-words").all_inner_texts())

    def answer(self) -> None:
        """Answer the question over it, if there is one that is still open."""
        radios = self.box.locator("input[type=radio]")
        if radios.count() and not self.box.locator("input[type=radio]:checked").count():
            radios.first.click()  # not check(), which looks again at what the answer takes away
            self.page.wait_for_timeout(300)
            at_rest(self.page, 100)

    def first(self) -> tuple[Any, str]:
        """Return its first control that can be moved, and of what kind it is."""
        field = self.box.locator(".vd-control").locator("select, input, .noUi-handle").first
        field.scroll_into_view_if_needed()
        return field, field.evaluate(
            "e => e.matches('.noUi-handle') ? 'range' : e.matches('select') ? 'select' : e.type"
        )

    def by_key(self) -> str:
        """Move its first control from the keyboard; give what was wrong, or nothing."""
        return self._tried(self._keys)

    def _keys(self) -> str:
        field, kind = self.first()
        before = self.look()
        field.focus()
        last = field.evaluate(
            "e => e.matches('select') ? e.selectedIndex === e.options.length - 1 : +e.ariaValueNow >= +e.ariaValueMax"
        )
        for key in KEYS[kind]:
            turned = {"ArrowDown": "ArrowUp", "ArrowRight": "ArrowLeft"}.get(key, key)
            self.page.keyboard.press(turned if last else key)
        return self._moved(before, f"the keyboard on its first control, a {kind},")

    def by_mouse(self, pixels: float = 25) -> str:
        """Drag its first slider; give what was wrong, or nothing."""
        return self._tried(lambda: self._dragged(pixels))

    def _tried(self, act: Callable[[], str]) -> str:
        """Do something, and once more where nothing came of it: the page may have moved away under the hand."""
        return act() and act()

    def _dragged(self, pixels: float) -> str:
        handles = self.box.locator(".widget-slider .noUi-target:not([disabled]) .noUi-handle")
        if not handles.count():
            return ""
        handle = handles.first
        handle.scroll_into_view_if_needed()
        before = self.look()
        box = handle.bounding_box()
        late = handle.evaluate("e => +e.ariaValueNow > (+e.ariaValueMax + +e.ariaValueMin) / 2")
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        self.page.mouse.move(x, y)
        self.page.mouse.down()
        self.page.mouse.move(x - pixels if late else x + pixels, y, steps=5)
        self.page.mouse.up()
        return self._moved(before, "dragging its first slider")

    def _moved(self, before: tuple[str, str], how: str, seconds: float = 15) -> str:
        """Wait until its picture or its words have changed; give a complaint if they do not."""
        for _ in range(int(seconds / 0.1)):
            if self.look() != before:
                self.page.wait_for_timeout(100)  # the picture and the words do not come at once
                self.still &= self.look()[0] == before[0]
                return ""
            self.page.wait_for_timeout(100)
        return f"{self.name}: {how} changed neither picture nor words"


def unreached(page: Any, box: Any, walks: int = 3) -> list[str]:
    """Return controls that no walk by Tab reaches or whose focus cannot be seen; a picture that comes can end one.

    Of a whole page one walk looks at the controls of all panels.
    """
    faults: list[str] = []
    for _ in range(walks):
        faults = _walked(page, box)
        if not faults:
            return []
        page.wait_for_timeout(1500)
    return faults


def _walked(page: Any, box: Any) -> list[str]:
    """Walk through a part of the page by Tab alone; give the controls without focus, or whose focus cannot be seen."""
    page.mouse.move(0, 0)
    page.evaluate("document.activeElement?.blur()")
    at_rest(page, 250)  # until what was touched looks as before, and no picture comes that could end the walk
    any_there = box.evaluate(
        """(box, fields) => {
        const seen = e => e.offsetParent && !e.disabled && !e.closest('[disabled]');
        const look = e => { const s = getComputedStyle(e);
            return [s.outlineStyle, s.outlineWidth, s.boxShadow, s.borderColor, s.backgroundColor].join(); };
        const name = e => (e.closest('.widget-inline-hbox, .widget-checkbox, .widget-radio') ?? e).innerText.trim()
            .split('\\n')[0] + ' (' + (e.type ?? 'slider') + ')';
        const group = e => e.type === 'radio' ? [...box.querySelectorAll('input[type=radio]')] : [e];
        const all = [...box.querySelectorAll(fields)].filter(e => seen(e) && e.closest('.vd-panel'));
        window.walk?.stop.abort();
        const w = window.walk = {box, all, plain: all.map(look), reached: new Set(), faint: new Set(), name,
            been: false, left: false, stop: new AbortController()};
        all[0]?.focus({preventScroll: true});
        document.addEventListener('focusin', ({target: e}) => { const i = all.indexOf(e);
            box.contains(e) ? w.been = true : w.left ||= w.been;
            if (i < 0) return;
            group(e).forEach(x => w.reached.add(x));
            const s = getComputedStyle(e);
            if (look(e) === w.plain[i] && s.outlineStyle === 'none') w.faint.add(name(e)); }, {signal: w.stop.signal});
        return all.length; }""",
        FIELDS,
    )
    if not any_there:  # a chooser that only says which car is shown, over a panel that nothing can move
        return []
    page.keyboard.press("Shift+Tab")  # so that the first one too is reached by key: only then is its focus shown
    for step in range(400):
        page.keyboard.press("Tab")
        if step % 6 == 5 and page.evaluate("walk.left"):
            break
    return page.evaluate(
        """() => { const w = window.walk;
        return [...w.all.filter(e => !w.reached.has(e)).map(e => 'no focus by Tab: ' + w.name(e)),
                ...[...w.faint].map(n => 'focus not seen: ' + n)]; }"""
    )


def shown(page: Any, within: Any) -> Iterator[Shown]:
    """Yield every panel within a part of the page, in turn."""
    boxes = within.locator(LEAF)
    for i in range(boxes.count()):
        boxes.nth(i).scroll_into_view_if_needed()
        panel = Shown(page, boxes.nth(i))
        panel.answer()
        yield panel


def whole(within: Any) -> Iterator[Any]:
    """Yield everything with controls within a part of the page, choosers and forms too."""
    boxes = within.locator(WHOLE)
    for i in range(boxes.count()):
        boxes.nth(i).scroll_into_view_if_needed()
        yield boxes.nth(i)


def cut_labels(page: Any) -> list[str]:
    """Return the words of every control, list and sheet whose label is cut off on the screen."""
    return page.evaluate(
        """() => { const pen = document.createElement('canvas').getContext('2d');
        const wide = e => { const s = getComputedStyle(e); pen.font = s.font;  // an arrow stands beside a list's words
            return pen.measureText(e.options[e.selectedIndex].text).width + parseFloat(s.paddingLeft) + 20; };
        const cut = e => e.matches('select') ? wide(e) > e.clientWidth : e.scrollWidth > e.clientWidth + 1;
        const kinds = ['.widget-label', '.widget-readout', 'button', '.lm-TabBar-tabLabel',
            '.widget-dropdown select'].map(kind => '.vd-panel ' + kind);
        return [...document.querySelectorAll(kinds.join())].filter(e => e.offsetParent)
            .filter(e => (!e.matches('select') || e.selectedIndex >= 0) && cut(e))
            .map(e => e.matches('select') ? e.options[e.selectedIndex].text : e.innerText); }"""
    )


def too_wide(page: Any) -> list[str]:
    """Return what in a panel sticks out of its cell to the right."""
    return page.evaluate(
        """[...document.querySelectorAll('.jp-OutputArea-output .vd-panel')].flatMap(p => {
        const edge = p.closest('.jp-OutputArea-output').getBoundingClientRect().right + 1;
        const all = [...p.querySelectorAll('*')];
        return all.filter(e => e.getBoundingClientRect().right > edge).map(e => e.className)})"""
    )


def beyond_one_screen(page: Any) -> list[str]:
    """Return the panels whose verdict, first control and picture are not on one screen, or not side by side."""
    return page.evaluate(
        """() => { const view = document.querySelector('.jp-NotebookPanel:not(.lm-mod-hidden) .jp-WindowedPanel-outer');
        const cells = document.querySelector('#rendered_cells');
        const room = (view ?? cells)?.clientHeight ?? window.innerHeight;
        return [...document.querySelectorAll('.vd-panel:has(> .vd-main)')].filter(p => p.offsetParent).flatMap(p => {
            const box = found => { const e = p.querySelector(found), b = e?.getBoundingClientRect();
                return b && b.height > 0 ? b : null; };
            const [side, stage] = [box('.vd-side'), box('.vd-stage')];
            const parts = [box('.vd-verdict'), box('.vd-control'), stage].filter(b => b);
            const name = p.querySelector('.vd-control')?.innerText.split('\\n')[0] ?? 'no control';
            const high = Math.max(...parts.map(b => b.bottom)) - Math.min(...parts.map(b => b.top));
            return [...(high > room ? [`${name}: ${Math.round(high)} of ${room} px high`] : []),
                ...(side && stage && side.right > stage.left ? [`${name}: its picture is below its controls`] : [])];
        }); }"""
    )


FOLDS = (
    ".vd-panel .widget-toggle-button:has-text('▸'), .vd-panel .jupyter-widget-Collapse-header, .vd-panel .lm-TabBar-tab"
)
"""What opens something: the line over heavy parts, the head of a fold, a tab."""


def every_fold(page: Any) -> Iterator[str]:
    """Open every line, fold and tab of a page in turn, those inside of them too, and yield the name of each."""
    done: set[str] = set()
    missed = 0
    while True:
        found = page.locator(FOLDS)
        names = [f"{i}: {text.strip()}" for i, text in enumerate(found.all_inner_texts())]
        fresh = [i for i, name in enumerate(names) if name not in done and found.nth(i).is_visible()]
        if not fresh:
            return
        try:
            found.nth(fresh[0]).click(timeout=3000)
        except LateError:  # it went while it was looked at: what is there now is listed again
            missed += 1
            if missed > 20:
                raise
            continue
        done.add(names[fresh[0]])
        page.wait_for_timeout(250)
        yield names[fresh[0]]


def scrollbars(page: Any) -> list[str]:
    """Return what in a panel can be scrolled for itself; a box to write in and a list to choose several from may."""
    return page.evaluate(
        """() => [...document.querySelectorAll('.vd-panel, .vd-panel *')].filter(e => {
        if (!e.offsetParent || e.matches('textarea, select, input')) return false;
        const s = getComputedStyle(e), bar = way => ['auto', 'scroll'].includes(way);
        return (bar(s.overflowY) && e.scrollHeight > e.clientHeight + 1)
            || (bar(s.overflowX) && e.scrollWidth > e.clientWidth + 1);
        }).map(e => `${e.className}: ${e.scrollWidth} of ${e.clientWidth} wide, `
            + `${e.scrollHeight} of ${e.clientHeight} high: ${e.innerText.slice(0, 40)}`)"""
    )


def grown(page: Any, letters: float) -> list[float]:
    """Return how much larger than its letters each picture is, where that is not as it should be."""
    times = page.evaluate(
        "[...document.querySelectorAll('.vd-stage > img.vd-picture')].map(i => i.clientWidth / i.getAttribute('width'))"
    )
    return [round(one / letters, 2) for one in times if not 0.9 < one / letters < 1.02]


def alerts(page: Any) -> list[str]:
    """Return the words of every message shown by a panel that is in the page now."""
    return [t for t in page.locator(".vd-panel [role=alert]").all_inner_texts() if t]


def small_text(page: Any, least: float) -> list[str]:
    """Return every piece of text in the page, not in a picture, that is smaller than so many pixels, with its size."""
    return page.evaluate(
        """least => { const small = new Map();
        const walk = document.createTreeWalker(document.querySelector('.jp-Notebook'), NodeFilter.SHOW_TEXT);
        for (let n = walk.nextNode(); n; n = walk.nextNode()) {
            const e = n.parentElement, size = parseFloat(getComputedStyle(e).fontSize);
            const hidden = e.closest('.vd-alt, mjx-container, style, script, [aria-hidden=true], sub, sup');
            const tiny = e.getBoundingClientRect().width < 2;
            if (n.data.trim() && !hidden && !tiny && size < least && !small.has(size + e.className))
                small.set(size + e.className, size + ' px: ' + n.data.trim().slice(0, 40)); }
        return [...small.values()]; }""",
        least,
    )
