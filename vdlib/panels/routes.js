// A small moving picture for each route of ride height: what moves when the car goes from its reference to as it is.

const W = 132, H = 74;

function shape(pen, points, fill, edge) {
  pen.beginPath();
  points.forEach(([x, y], i) => (i ? pen.lineTo(x, y) : pen.moveTo(x, y)));
  if (fill) { pen.closePath(); pen.fillStyle = fill; pen.fill(); }
  if (edge) { pen.strokeStyle = edge; pen.lineWidth = 1.6; pen.stroke(); }
}

function line(pen, from, to, colour, width = 2, dash = []) {
  pen.setLineDash(dash);
  pen.beginPath(); pen.moveTo(...from); pen.lineTo(...to);
  pen.strokeStyle = colour; pen.lineWidth = width; pen.stroke();
  pen.setLineDash([]);
}

function dot(pen, x, y, size, fill, edge = "#000") {
  pen.beginPath(); pen.arc(x, y, size, 0, 2 * Math.PI);
  pen.fillStyle = fill; pen.fill(); pen.strokeStyle = edge; pen.lineWidth = 1.2; pen.stroke();
}

const clip = (v, most) => Math.min(Math.max(v, -most), most);

// The car from the side, nose to the right, its ends lifted by so many pixels.
function side(pen, c, front, rear) {
  line(pen, [4, 66], [W - 4, 66], "#000", 1.5);
  const lift = (x) => rear + ((front - rear) * (x - 30)) / 72;
  shape(pen, [[14, 52], [14, 40], [38, 38], [56, 24], [70, 24], [88, 38], [116, 44], [118, 54]].map(([x, y]) => [x, y - lift(x)]), c.body, c.muted);
  for (const x of [30, 102]) dot(pen, x, 57, 9, c.rubber);
  return lift;
}

// One axle from behind, the body between two wheels.
function behind(pen, c, x, lean = 0, up = 0) {
  line(pen, [x - 30, 66], [x + 30, 66], "#000", 1.5);
  for (const s of [-1, 1]) {
    pen.save(); pen.translate(x + s * 22, 66); pen.rotate(s * lean);
    pen.fillStyle = c.rubber; pen.fillRect(-4, -24, 8, 24); pen.restore();
  }
  shape(pen, [[x - 15, 52 - up], [x - 15, 40 - up], [x - 9, 26 - up], [x + 9, 26 - up], [x + 15, 40 - up], [x + 15, 52 - up]], c.body, c.muted);
}

const DRAW = {
  weight(pen, c, [front, rear], k) {
    const lift = side(pen, c, 5 * k, -5 * k), at = 66 - clip(rear, 6) * 2.5 * k;
    dot(pen, at, 42 - lift(at), 5, "#fff");
    for (const [x, v] of [[30, rear], [102, front]]) line(pen, [x, 72], [x, 66 - clip(v, 8) * 2 * k], v > 0 ? c.arrow : c.muted, 3);
  },
  cg_height(pen, c, [rise], k) {
    const up = clip(rise, 20) * 0.6 * k;
    side(pen, c, up, up);
    dot(pen, 66, 42 - up, 5, "#fff");
    line(pen, [66, 66], [66, 47 - up], c.muted, 1.2, [3, 2]);
  },
  roll_centres(pen, c, moves, k) {
    [[34, moves[0], c.front], [98, moves[1], c.rear]].forEach(([x, v, tone]) => {
      const at = 58 - clip(v, 40) * 0.45 * k;
      behind(pen, c, x, 0, clip(v, 40) * 0.2 * k);
      line(pen, [x - 22, 66], [x, at], tone, 1.4, [3, 2]); line(pen, [x + 22, 66], [x, at], tone, 1.4, [3, 2]);
      shape(pen, [[x, at - 5], [x + 5, at], [x, at + 5], [x - 5, at]], tone, "#000");
    });
  },
  stops(pen, c, moves, k, was) {
    [[34, 0, c.front], [98, 1, c.rear]].forEach(([x, i, tone]) => {
      const room = was[i] + (moves[i] - was[i]) * k, top = 10, rubber = 22, at = top + Math.max(rubber + room * 0.55, 5);
      const end = top + Math.max(Math.min(rubber, rubber + room * 0.55), 5), hit = room < 0;
      pen.fillStyle = c.muted; pen.fillRect(x - 22, top - 5, 44, 5);
      shape(pen, [[x - 9, top], [x + 9, top], [x + (hit ? 11 : 6), end], [x - (hit ? 11 : 6), end]], hit ? c.arrow : c.rubber, "#000");
      line(pen, [x, top], [x, at], c.muted, 2);
      pen.fillStyle = "#C8CDD1"; pen.fillRect(x - 8, at, 16, H - 6 - at);
      line(pen, [x - 14, H - 6], [x + 14, H - 6], tone, 4);
    });
  },
  toe(pen, c, moves, k) {
    shape(pen, [[50, 8], [82, 8], [84, 66], [48, 66]], c.body, c.muted);
    for (const [y, v, tone] of [[18, moves[0], c.front], [56, moves[1], c.rear]]) for (const s of [-1, 1]) {
      pen.save(); pen.translate(66 + s * 26, y); pen.rotate(-s * clip(v, 0.6) * 0.9 * k);
      pen.fillStyle = tone; pen.fillRect(-4, -11, 8, 22); pen.restore();
    }
    line(pen, [66, 20], [66, 2], c.muted, 1.4); shape(pen, [[66, 0], [62, 6], [70, 6]], c.muted);
  },
  camber(pen, c, moves, k) {
    [[34, moves[0]], [98, moves[1]]].forEach(([x, v]) => behind(pen, c, x, clip(v, 1) * 0.3 * k, 0));
  },
  caster(pen, c, [tip], k) {
    side(pen, c, 4 * k, -4 * k);
    const a = clip(tip, 2) * 0.25 * k;
    line(pen, [102, 66], [102, 20], c.muted, 1.2, [3, 2]);
    line(pen, [102 + 12 * (0.15 + a), 66], [102 - 34 * (0.15 + a), 20], c.front, 3);
  },
  anti(pen, c, moves, k) {
    side(pen, c, 4 * k, -4 * k);
    line(pen, [102, 66], [62, 66 - 40 * (0.15 + clip(moves[0], 3) * 0.12 * k)], c.front, 2.4);
    line(pen, [30, 66], [70, 66 - 40 * (0.25 + clip(moves[1], 3) * 0.12 * k)], c.rear, 2.4);
  },
  air(pen, c, _, k) {
    side(pen, c, 4 * k, -4 * k);
    for (const y of [16, 70]) line(pen, [126, y], [96 - 6 * k, y], c.holds, 2);
  },
};

function render({ model, el }) {
  const root = document.createElement("div"), calm = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
  root.className = "vdr";
  el.append(root);
  let pens = [], turn = 0, seen = true;
  const build = () => {
    const { routes, colours } = model.get("sent");
    root.replaceChildren();
    const rest = document.createElement("details"), line = document.createElement("summary");
    const little = routes.filter((route) => route.small).map((route) => route.name);
    line.textContent = `Hardly any effect on this car: ${little.join(", ")}`;
    rest.append(line);
    const most = Math.max(...routes.map((r) => Math.abs(r.part)), 0.02);
    pens = routes.map((route) => {
      const row = document.createElement("div"), canvas = document.createElement("canvas"), words = document.createElement("div");
      const name = document.createElement("b"), bar = document.createElement("div"), why = document.createElement("div");
      row.className = "vdr-row";
      canvas.setAttribute("role", "img");
      canvas.setAttribute("aria-label", `${route.name}: ${route.sentence}`);
      const sharp = window.devicePixelRatio || 1;
      Object.assign(canvas, { width: W * sharp, height: H * sharp });
      Object.assign(canvas.style, { width: `${W}px`, height: `${H}px` });
      name.textContent = `${route.name}: ${route.size}`;
      bar.className = "vdr-bar";
      const part = document.createElement("span"), wide = (48 * Math.abs(route.part)) / most;
      Object.assign(part.style, { width: `${wide}%`, left: route.part < 0 ? `${50 - wide}%` : "50%", background: route.part < 0 ? colours.over : colours.under });
      bar.append(part);
      why.textContent = route.sentence;
      words.append(name, bar, why);
      row.append(canvas, words);
      (route.small ? rest : root).append(row);
      const pen = canvas.getContext("2d");
      pen.scale(sharp, sharp);
      return (k) => { pen.clearRect(0, 0, W, H); DRAW[route.key](pen, colours, route.moves, k, route.was); };
    });
    if (little.length) root.append(rest);
    pens.forEach((paint) => paint(1));
  };
  // There in a second, a second's rest, and back; at rest where no motion is wanted or nothing is on the screen.
  const move = (clock) => {
    const t = (clock / 1000) % 4, k = t < 1 ? t : t < 2.2 ? 1 : t < 3.2 ? 3.2 - t : 0;
    if (seen) pens.forEach((paint) => paint(k * k * (3 - 2 * k)));
    turn = requestAnimationFrame(move);
  };
  build();
  model.on("change:sent", build);
  const watch = new IntersectionObserver(([one]) => (seen = one.isIntersecting));
  watch.observe(root);
  if (!calm) turn = requestAnimationFrame(move);
  return () => { cancelAnimationFrame(turn); watch.disconnect(); };
}

export default { render };
