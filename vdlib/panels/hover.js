// Words of the trade are marked where a page uses them; their meaning shows on pointing, on Tab and on a tap.
const PROSE = ".jp-RenderedMarkdown", SAID = ".vd-verdict, .vd-words";
const LEAVE = "a, button, summary, label, h1, h2, h3, h4, h5, h6, code, pre, th, table, mjx-container, script, style, .MathJax, .vd-term, .vd-alt";
const REST = 400; // the page is looked through once nothing has changed for so long [ms]

function tip() {
  const old = document.querySelector(".vd-meaning");
  if (old) return old;
  const box = document.createElement("div");
  Object.assign(box, { className: "vd-meaning", id: "vd-meaning", hidden: true });
  box.setAttribute("role", "tooltip");
  document.body.append(box);
  return box;
}

function show(term, box) {
  box.textContent = term.dataset.meaning;
  box.hidden = false;
  term.setAttribute("aria-describedby", box.id);
  const at = term.getBoundingClientRect(), high = box.offsetHeight, wide = box.offsetWidth;
  const below = at.bottom + 4 + high < window.innerHeight;
  box.style.left = `${Math.max(4, Math.min(at.left, window.innerWidth - wide - 8))}px`;
  box.style.top = `${below ? at.bottom : Math.max(0, at.top - high)}px`;
}

function render({ model, el }) {
  const words = model.get("sent"), box = tip(), read = new WeakMap(), first = new Map();
  const longest = Object.keys(words).sort((a, b) => b.length - a.length);
  const pattern = new RegExp(`(?<![\\p{L}\\p{N}-])(${longest.join("|")})(?![\\p{L}\\p{N}]|-\\p{L})`, "giu");
  let root = null, waiting = 0;

  // The first use in the text of the page, and the first in each thing that a panel says.
  const mark = (block, open) => {
    const folds = new Map(); // what is folded away has its own
    const walk = document.createTreeWalker(block, NodeFilter.SHOW_TEXT), texts = [];
    for (let n = walk.nextNode(); n; n = walk.nextNode()) if (!n.parentElement.closest(LEAVE) && !/[$\\]/.test(n.data)) texts.push(n);
    for (const text of texts) {
      const fold = text.parentElement.closest("details"), parts = [];
      if (fold && !folds.has(fold)) folds.set(fold, new Map());
      const met = fold ? folds.get(fold) : open;
      let end = 0;
      for (const found of text.data.matchAll(pattern)) {
        const meaning = words[found[0].toLowerCase()];
        if (!meaning || met.get(meaning)?.isConnected || parts.some((part) => part.dataset?.meaning === meaning)) continue;
        const term = document.createElement("dfn");
        Object.assign(term, { className: "vd-term", tabIndex: 0, textContent: found[0] });
        term.dataset.meaning = meaning;
        met.set(meaning, term);
        parts.push(text.data.slice(end, found.index), term);
        end = found.index + found[0].length;
      }
      if (parts.length) text.replaceWith(...parts, text.data.slice(end));
    }
  };
  const look = () => {
    for (const block of root.querySelectorAll(`${PROSE}, ${SAID}`)) {
      const then = read.get(block), now = block.querySelectorAll(".vd-term").length;
      if (then && then.text === block.textContent && then.count === now) continue;
      const said = !block.matches(PROSE);
      if (said && block.parentElement.closest(SAID)) continue;
      mark(block, said ? new Map() : first);
      read.set(block, { text: block.textContent, count: block.querySelectorAll(".vd-term").length });
    }
  };
  const soon = () => { clearTimeout(waiting); waiting = setTimeout(look, REST); };
  const watch = new MutationObserver(soon);
  const start = () => {
    root = el.closest(".jp-Notebook, #rendered_cells, body");
    if (!root || root.vdMeanings) return;
    root.vdMeanings = true;
    try { model.send("seen"); } catch { /* the page is being left, and its kernel is gone */ }
    watch.observe(root, { childList: true, subtree: true, characterData: true });
    soon();
  };
  const over = (event) => { const term = event.target.closest?.(".vd-term"); if (term) show(term, box); };
  const out = (event) => { if (!box.contains(event.relatedTarget) && event.target.closest?.(".vd-term, .vd-meaning")) box.hidden = true; };
  const escape = (event) => { if (event.key === "Escape") box.hidden = true; };
  const hear = [["mouseover", over], ["focusin", over], ["mouseout", out], ["focusout", out], ["keydown", escape]];
  hear.forEach(([name, does]) => document.addEventListener(name, does));
  const attached = setInterval(() => { if (el.isConnected) { clearInterval(attached); start(); } }, 50);
  return () => {
    clearInterval(attached); clearTimeout(waiting); watch.disconnect();
    if (root) root.vdMeanings = false;
    hear.forEach(([name, does]) => document.removeEventListener(name, does));
  };
}

export default { render };
