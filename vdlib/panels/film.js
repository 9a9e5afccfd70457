// The film on a canvas: one corner twice, from arrays that the kernel sends once. Nothing is fetched from a network.
// `layout` says where everything stands; vdlib/draw/stage_layout.py says the same, and a browser test compares them.

const CHANNELS = ["x", "y", "heading", "sideslip", "slide", "steer"];
const OWN_KEYS = "data-lm-suppress-shortcuts";  // on what has the focus: a notebook then leaves its keys alone
const FONT = "system-ui, 'Helvetica Neue', Arial, sans-serif";

// ---- where everything stands ------------------------------------------------------------------------------------

// One quantity of a run between two kept moments; film.runs is one array [channel][state][speed][time].
export function read(film, name, state, speed, time) {
  const count = film.count, step = film.step, at = Math.min(time, step * (count - 1));
  const first = Math.min(Math.floor(at / step + 1e-9), count - 2), part = at / step - first;
  const start = ((CHANNELS.indexOf(name) * film.names.length + state) * film.speeds.length + speed) * count + first;
  return film.runs[start] + part * (film.runs[start + 1] - film.runs[start]);
}

// A whole number as Python writes it: halves to even, and never a minus before nothing.
function whole(value) {
  const low = Math.floor(value), half = value - low === 0.5;
  const found = half ? low + (low % 2 === 0 ? 0 : 1) : Math.round(value);
  return (found === 0 ? 0 : found).toFixed(0);
}

function signed(film, rise) {
  const { factor, label, digits } = film.units.length, size = fixed(Math.abs(rise) * factor, digits);
  return Number(size) ? `${rise > 0 ? "up" : "down"} ${size} ${label}` : "as before";
}

function pressed(film, room) {
  const { factor, label, digits } = film.units.length, size = `${fixed(Math.abs(room) * factor, digits)} ${label}`;
  return room < -0.0005 ? `${size} pressed` : `${size} gap`;
}

const fixed = (value, digits) => (digits ? value.toFixed(digits) : whole(value));

export function layout(film, state, speed, time) {
  const plan = film.plan, after = time - film.before;
  return {
    cars: [0, state].map((k, i) => car(film, k, speed, time, plan.views[i])),
    line: line(film, speed),
    foot: Math.min(Math.max(after / 0.15, 0), 1),
    driver: `${after / 0.15 > 0.5 ? film.foot : "foot on"}, hands still`,
    clock: after < 0 ? "foot still on the throttle" : `${after.toFixed(1)} s after the foot lifts`,
    side: side(film, state),
    rear: [0, state].map((k, i) => rear(film, k, plan.rear[i], i ? "right car" : "left car")),
    strip: strip(film, speed),
  };
}

function out(film, slide, ended) {
  const degrees = (slide * 180) / Math.PI, { far } = film.plan;
  return ended || degrees > far ? `over ${far}°` : `${whole(Math.max(degrees, 0))}°`;
}

function car(film, state, speed, time, view) {
  const [scale, left, bottom] = film.frame;
  const [x, y, heading, sideslip, slide, steer] = CHANNELS.map((name) => read(film, name, state, speed, time));
  const at = [view[0] + left - scale * y, view[1] + bottom - scale * x], going = heading + sideslip;
  const ends = film.ends[state][speed], ended = ends !== null && time >= ends;
  return {
    name: film.names[state],
    at,
    heading,
    steer,
    hands: film.plan.ratio * steer,
    arrow: [at[0] - 58 * Math.sin(going), at[1] - 58 * Math.cos(going)],
    out: ended && ends <= 0 ? "cannot hold this" : `tail out ${out(film, slide, ended)}`,
    lost: slide > film.lost,
    ended,
    stops: film.plan.stops[ended && ends <= 0 ? "none" : Math.abs(sideslip) > film.lost ? "spun" : "slow"],
  };
}

// The line across the road where the foot lifts: inner end, outer end.
function line(film, speed) {
  const [scale, left, bottom] = film.frame, angle = (film.before * film.speeds[speed]) / film.radius;
  return [-0.5, 0.5].map((part) => {
    const out = film.radius + part * film.width;
    const right = film.turn * (out * Math.cos(angle) - film.radius);
    return [left + scale * right, bottom - scale * out * Math.sin(angle)];
  });
}

function side(film, state) {
  const [x, y, wide, high] = film.plan.side, [front, back] = [0, 1].map((end) => film.rise[end][state]);
  return {
    scale: (wide - 8) / (film.shape.base + 1.62),
    ground: [x + 0.5 * wide, y + high - 20],
    rise: [film.plan.heights * front, film.plan.heights * back],
    front: `nose ${signed(film, front)}`,
    rear: `tail ${signed(film, back)}`,
  };
}

function rear(film, state, box, name) {
  const plan = film.plan, [standing, corner] = [0, 1].map((i) => 1000 * film.room[i][state]);
  const top = (room) => box[1] + 10 + plan.per_mm * Math.max(plan.rubber + room, plan.least);
  return {
    name,
    top: [top(standing), top(corner)],
    rubber: box[1] + 10 + plan.per_mm * Math.max(Math.min(plan.rubber + corner, plan.rubber), plan.least),
    standing: `standing: ${pressed(film, film.room[0][state])}`,
    corner: `corner: ${pressed(film, film.room[1][state])}`,
    pressed: corner < -0.5,
  };
}

function strip(film, speed) {
  const [x, y, wide] = film.plan.strip, { factor, label } = film.units.speed;
  const kmh = film.speeds.map((v) => v * factor);
  const low = kmh[0], high = kmh[kmh.length - 1];
  const across = (v) => x + wide * Math.min(Math.max((v - low) / (high - low), 0), 1);
  const step = film.plan.strip[3] / film.names.length;
  const rows = film.forgiven.map((one, i) => ({
    y: y + step * i,
    end: across(one * factor),
    text: (one * factor).toFixed(1) + film.marks[i],
    holds: film.speeds[speed] < one - 1e-9,
  }));
  const ticks = [];
  for (let v = Math.ceil(low - 1e-6); v <= Math.floor(high + 1e-6); v++) ticks.push([across(v), `${v}`]);
  return { title: film.title, beyond: film.beyond, rows, step, now: across(kmh[speed]), speed: `${kmh[speed].toFixed(1)} ${label}`, ticks };
}

// ---- drawing ----------------------------------------------------------------------------------------------------

function path(pen, points, close = true) {
  pen.beginPath();
  points.forEach(([x, y], i) => (i ? pen.lineTo(x, y) : pen.moveTo(x, y)));
  if (close) pen.closePath();
}

function paint(pen, fill, edge, width = 1) {
  if (fill) { pen.fillStyle = fill; pen.fill(); }
  if (edge) { pen.strokeStyle = edge; pen.lineWidth = width; pen.stroke(); }
}

function text(pen, said, x, y, size, colour, { bold = false, align = "left", halo = "" } = {}) {
  pen.font = `${bold ? "bold " : ""}${size}px ${FONT}`;
  pen.textAlign = align;
  pen.textBaseline = "alphabetic";
  if (halo) { pen.strokeStyle = halo; pen.lineWidth = 3; pen.lineJoin = "round"; pen.strokeText(said, x, y); }
  pen.fillStyle = colour;
  pen.fillText(said, x, y);
}

function arrow(pen, from, to, colour, width = 3) {
  const angle = Math.atan2(to[1] - from[1], to[0] - from[0]), head = 4 * width;
  const neck = [to[0] - 0.8 * head * Math.cos(angle), to[1] - 0.8 * head * Math.sin(angle)];
  path(pen, [from, neck], false);
  paint(pen, null, colour, width);
  const wing = (turn) => [to[0] - head * Math.cos(angle + turn), to[1] - head * Math.sin(angle + turn)];
  path(pen, [to, wing(0.45), wing(-0.45)]);
  paint(pen, colour);
}

// Points of the car (x forward, y left, metres) on the stage.
function place(points, at, heading, scale) {
  const c = Math.cos(heading), s = Math.sin(heading);
  return points.map(([x, y]) => [at[0] + scale * (-s * x - c * y), at[1] - scale * (c * x - s * y)]);
}

function drawRoad(pen, film, view, lines) {
  const [scale, left, bottom] = film.frame, [x, y, wide, high] = view, c = film.colours;
  const middle = [x + left - film.turn * scale * film.radius, y + bottom], half = 0.5 * film.width;
  pen.save();
  pen.beginPath(); pen.rect(x, y, wide, high); pen.clip();
  pen.beginPath(); pen.arc(...middle, scale * film.radius, 0, 2 * Math.PI);
  paint(pen, null, c.road, scale * film.width);
  for (const out of [film.radius - half, film.radius + half]) {
    pen.beginPath(); pen.arc(...middle, scale * out, 0, 2 * Math.PI); paint(pen, null, c.edge, 1.5);
  }
  path(pen, lines.map(([a, b]) => [x + a, y + b]), false);
  paint(pen, null, c.arrow, 2);
  const inner = lines[0], align = film.turn > 0 ? "right" : "left";
  text(pen, "foot lifts", x + inner[0] - 5 * film.turn, y + inner[1] + 4, 12, c.arrow, { align });
  pen.restore();
}

function drawTrack(pen, film, state, speed, time, view, colour, dashed) {
  const [scale, left, bottom] = film.frame, points = [];
  const end = film.ends[state][speed] ?? Infinity;
  for (let t = 0; t <= Math.min(time, end) + 1e-9; t += film.step) {
    const [x, y] = [read(film, "x", state, speed, t), read(film, "y", state, speed, t)];
    points.push([view[0] + left - scale * y, view[1] + bottom - scale * x]);
  }
  pen.setLineDash(dashed ? [6, 4] : []);
  path(pen, points, false);
  paint(pen, null, colour, 2);
  pen.setLineDash([]);
}

function drawBody(pen, film, at, heading, steer, fill, edge, strength = 1) {
  const scale = film.frame[0] * film.plan.times, { body, glass, wheels } = film.shape, c = film.colours;
  pen.save();
  pen.globalAlpha = strength;
  for (const [x, y, radius] of wheels) {
    const turn = x > 0 ? steer : 0, box = [[-1, -0.13], [1, -0.13], [1, 0.13], [-1, 0.13]];
    const tyre = place(box.map(([a, b]) => [a * radius * 1.1, b]), [0, 0], turn, 1).map(([a, b]) => [-b, -a]);
    path(pen, place(tyre.map(([a, b]) => [x + a, y * 1.04 + b]), at, heading, scale));
    paint(pen, c.rubber, c.rubber, 0.5);
  }
  path(pen, place(body, at, heading, scale)); paint(pen, fill, edge, 1.8);
  path(pen, place(glass, at, heading, scale)); paint(pen, c.glass, null);
  pen.restore();
}

function drawView(pen, film, state, speed, time, view, one, lines, shown) {
  const c = film.colours, [x, y, wide, high] = view, ink = shown ? c.now : c.reference;
  drawRoad(pen, film, view, lines);
  pen.save();
  pen.beginPath(); pen.rect(x, y, wide, high); pen.clip();
  drawTrack(pen, film, state, speed, time, view, ink, !shown);
  const fill = shown ? c.shown : c.body;
  for (let t = film.before; t < time - 0.35; t += 0.7) {
    const at = car(film, state, speed, t, view);
    if (!at.ended) drawBody(pen, film, at.at, at.heading, at.steer, fill, ink, 0.28);
  }
  drawBody(pen, film, one.at, one.heading, one.steer, fill, ink);
  arrow(pen, one.at, one.arrow, c.arrow, 3.2);
  pen.restore();
  const left = film.turn > 0, at = left ? x + 8 : x + wide - 8, align = left ? "left" : "right";
  text(pen, one.name, at, y + high - 46, Math.min(15, 390 / one.name.length), ink, { bold: true, align });
  if (one.ended) text(pen, one.stops, at, y + high - 62, 11, c.muted, { align });
  text(pen, one.out, at, y + high - 14, Math.min(27, 400 / one.out.length), one.lost ? c.arrow : ink, { bold: true, align });
}

// The foot on its pedal and the hands on the wheel, with words.
function drawDriver(pen, film, now) {
  const c = film.colours, [x, y, wide, high] = film.plan.views[0], left = film.turn > 0;
  const at = [left ? x + 30 : x + wide - 84, y + high - 114], one = now.cars[0];
  pen.save();
  pen.translate(at[0] + 44, at[1]);
  pen.save();
  pen.rotate(-one.hands);
  pen.beginPath(); pen.arc(0, 0, 18, 0, 2 * Math.PI); paint(pen, null, c.now, 3.5);
  path(pen, [[-17, 0], [17, 0]], false); paint(pen, null, c.now, 3);
  path(pen, [[0, 0], [0, 17]], false); paint(pen, null, c.now, 3);
  pen.restore();
  pen.restore();
  const lift = now.foot, [x0, y0] = [at[0] - 14, at[1] + 18], tint = lift > 0.5 ? c.arrow : c.good;
  path(pen, [[x0 - 10, y0 + 3], [x0 + 36, y0 + 3]], false); paint(pen, null, c.muted, 1.5);
  path(pen, [[x0 + 31, y0 + 2], [x0 + 38 - 11 * lift, y0 - 30]], false); paint(pen, null, c.now, 4);  // the pedal comes back up
  pen.lineCap = pen.lineJoin = "round";
  const toe = [x0 + 29 - 15 * lift, y0 - 18 - 13 * lift];
  path(pen, [[x0 - 8, y0 - 30], [x0, y0 - 3], toe], false); paint(pen, null, c.now, 11);
  path(pen, [[x0 - 8, y0 - 30], [x0, y0 - 3], toe], false); paint(pen, null, tint, 8);
  pen.lineCap = "butt"; pen.lineJoin = "miter";
  text(pen, now.driver, left ? x + 8 : x + wide - 8, at[1] + 36, 12, c.now, { align: left ? "left" : "right" });
}

function drawSide(pen, film, now) {
  const { scale, ground, rise, front, rear } = now.side, c = film.colours, s = film.shape, half = s.base / 2;
  const [x, y, wide] = film.plan.side;
  text(pen, `From the side (heights × ${film.plan.heights})`, x, y + 11, 12, c.now, { bold: true });
  path(pen, [[x, ground[1]], [x + wide, ground[1]]], false); paint(pen, null, c.now, 1.5);
  const body = (up) => s.side.map(([a, b]) => {
    const part = (a + half) / s.base, under = s.clear[1] + up[1] + part * (s.clear[0] + up[0] - s.clear[1] - up[1]);
    return [ground[0] + scale * a, ground[1] - scale * (b + under)];
  });
  path(pen, body(rise)); paint(pen, c.shown, c.now, 1.6);
  pen.setLineDash([4, 3]);
  path(pen, body([0, 0])); paint(pen, null, c.reference, 1.3);
  pen.setLineDash([]);
  [half, -half].forEach((a, i) => {
    pen.beginPath(); pen.arc(ground[0] + scale * a, ground[1] - scale * s.radii[i], scale * s.radii[i], 0, 2 * Math.PI);
    paint(pen, c.rubber, c.now, 1);
    pen.beginPath(); pen.arc(ground[0] + scale * a, ground[1] - scale * s.radii[i], 0.55 * scale * s.radii[i], 0, 7);
    paint(pen, "#C8CDD1");
  });
  text(pen, rear, x, ground[1] + 14, 13, c.rear, { bold: true });
  text(pen, front, x + wide, ground[1] + 14, 13, c.front, { bold: true, align: "right" });
}

function drawRear(pen, film, one, box, shown) {
  const c = film.colours, [x, y, wide, high] = box, middle = x + 0.5 * wide, top = y + 10, [standing, corner] = one.top;
  text(pen, one.name, middle, y - 5, 11, shown ? c.now : c.reference, { bold: true, align: "center" });
  pen.fillStyle = c.edge; pen.fillRect(x + 26, y, wide - 52, 10);
  const bottom = Math.max(y + high - 31, corner + 12);
  pen.fillStyle = "#C8CDD1"; pen.fillRect(middle - 12, corner, 24, bottom - corner);  // the damper's body goes with the wheel
  paintBox(pen, middle - 12, corner, 24, bottom - corner, c.muted);
  path(pen, [[middle, top], [middle, corner]], false); paint(pen, null, c.muted, 4);
  const bulge = one.pressed ? 6 : 0;
  path(pen, [[middle - 15, top], [middle + 15, top], [middle + 12 + bulge, 0.5 * (top + one.rubber)], [middle + 9 + bulge / 2, one.rubber],
    [middle - 9 - bulge / 2, one.rubber], [middle - 12 - bulge, 0.5 * (top + one.rubber)]]);
  paint(pen, one.pressed ? c.arrow : c.rubber, c.now, 1);
  if (!one.pressed) {  // the gap that is left
    const side = middle + 24;
    path(pen, [[side, one.rubber], [side, corner]], false); paint(pen, null, c.good, 2);
    for (const at of [one.rubber, corner]) { path(pen, [[side - 5, at], [side + 5, at]], false); paint(pen, null, c.good, 2); }
    text(pen, "gap", side + 5, 0.5 * (one.rubber + corner) + 4, 11, c.good);
  } else text(pen, "rubber", middle + 24, 0.5 * (top + one.rubber) + 4, 11, c.arrow);
  pen.setLineDash([4, 3]);
  path(pen, [[middle - 30, standing], [middle + 20, standing]], false); paint(pen, null, c.reference, 1.3);
  pen.setLineDash([]);
  text(pen, one.standing, middle, y + high - 16, 11, c.reference, { align: "center" });
  text(pen, one.corner, middle, y + high - 1, 10, one.pressed ? c.arrow : c.good, { bold: true, align: "center" });
}

function paintBox(pen, x, y, wide, high, colour) {
  pen.strokeStyle = colour; pen.lineWidth = 1; pen.strokeRect(x, y, wide, high);
}

function drawStrip(pen, film, now, state, hidden) {
  const c = film.colours, [x, y, wide, high] = film.plan.strip, { rows, step } = now.strip;
  text(pen, now.strip.title, 4, y - 26, 13, c.now, { bold: true });
  rows.forEach((row, i) => {
    const thick = step - 3;
    pen.fillStyle = c.lost; pen.fillRect(x, row.y, wide, thick);
    if (hidden) return;
    pen.globalAlpha = i === state || i === 0 ? 1 : 0.55;
    pen.fillStyle = i === 0 ? c.reference : i === state ? c.shown : film.driver[i] ? c.driver : c.holds;
    pen.fillRect(x, row.y, row.end - x, thick);
    pen.globalAlpha = 1;
    if (i === state) paintBox(pen, x, row.y, row.end - x, thick, c.now);
    if (i === 0) text(pen, now.strip.beyond, x + wide - 6, row.y + thick - 2, 11, c.arrow, { align: "right" });
  });
  const { now: at, speed, ticks } = now.strip, bottom = y + step * rows.length - 2;
  path(pen, [[at, y - 8], [at, bottom]], false); paint(pen, null, c.now, 2.5);
  path(pen, [[at - 6, y - 8], [at + 6, y - 8], [at, y - 2]]); paint(pen, c.now);
  if (!hidden) rows.forEach((row, i) => {  // over the line, which would strike them out
    const struck = at < row.end + 4 && at > row.end - 8 - 8 * row.text.length, fill = i === 0 ? c.reference : i === state ? c.shown : c.lost;
    text(pen, row.text, row.end - 5, row.y + step - 5, 12, i === 0 ? "white" : c.now,
      { bold: true, align: "right", halo: struck ? fill : "" });
  });
  const align = at > x + wide - 60 ? "right" : "center";
  text(pen, `film: ${speed}`, at, y - 10, 12, c.now, { bold: true, align, halo: "white" });
  for (const [tick, said] of ticks) text(pen, said, tick, bottom + 13, 11, c.muted, { align: "center" });
  text(pen, film.units.speed.label, x - 12, bottom + 13, 11, c.muted, { align: "right" });
  if (hidden) text(pen, "answer first", x + 0.5 * wide, y + 0.55 * high, 15, c.muted, { align: "center" });
}

export function draw(pen, film, state, speed, time, hidden = false) {
  const plan = film.plan, c = film.colours, now = layout(film, state, speed, time);
  pen.fillStyle = "white"; pen.fillRect(0, 0, plan.width, plan.height);
  plan.views.forEach((view, i) => drawView(pen, film, i ? state : 0, speed, time, view, now.cars[i], now.line, i === 1));
  drawDriver(pen, film, now);
  const [x, y, wide] = plan.views[1];
  const left = film.turn > 0;  // beside the road, outside the corner
  text(pen, now.clock, left ? x + wide - 4 : x + 4, y + 16, 13, c.muted, { align: left ? "right" : "left", halo: "white" });
  drawSide(pen, film, now);
  text(pen, "Outer rear: wheel travel to the bump stop", plan.side[0], plan.rear[0][1] - 20, 11, c.now, { bold: true });
  now.rear.forEach((one, i) => drawRear(pen, film, one, plan.rear[i], i === 1));
  drawStrip(pen, film, now, state, hidden);
  return now;
}

// ---- the widget -------------------------------------------------------------------------------------------------

// What the kernel sent, put together: words and sizes as an object, the runs as one array of numbers.
export function unpack(sent, bytes) {
  return { ...sent, runs: new Float32Array(bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.byteLength)) };
}

function button(parent, said, press, kind = "") {
  const made = document.createElement("button");
  made.className = `vdf-button ${kind}`;
  made.type = "button";
  made.textContent = said;
  made.setAttribute(OWN_KEYS, "true");
  made.addEventListener("click", press);
  parent.append(made);
  return made;
}

function part(parent, tag, kind, said = "") {
  const made = document.createElement(tag);
  made.className = kind;
  if (said) made.textContent = said;
  parent.append(made);
  return made;
}

function range(parent, label, most, step, move) {
  const box = part(parent, "label", "vdf-range", label);
  const made = part(box, "input", "");
  Object.assign(made, { type: "range", min: 0, max: most, step, value: 0 });
  made.setAttribute(OWN_KEYS, "true");
  made.addEventListener("input", () => move(Number(made.value)));
  return made;
}

class Stage {
  constructor(model, el) {
    this.model = model;
    this.calm = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
    Object.assign(this, { state: 1, time: 0, rate: 1, playing: false, answered: !model.get("sent").question });
    this.recall();
    this.root = part(el, "div", "vdf");
    this.build();
    this.take();
    this.root.addEventListener("keydown", (event) => this.key(event));
    this.watch = new ResizeObserver(() => this.fit());
    this.watch.observe(this.root);
    model.on("change:sent", () => this.take());
    model.on("change:said", () => { this.recall(); this.paint(); this.tell(); });
  }

  // An answer given before the film was made anew, such as in other units, stays given.
  recall() {
    const said = this.model.get("said");
    if (said >= 0) Object.assign(this, { said, answered: true });
  }

  build() {
    const ask = (this.ask = part(this.root, "div", "vdf-ask"));
    this.question = part(ask, "div", "vdf-question");
    this.options = part(ask, "div", "vdf-options");
    this.verdict = part(this.root, "div", "vdf-verdict");
    this.headline = part(this.verdict, "b", "");
    this.sentence = part(this.verdict, "span", "");
    this.verdict.setAttribute("role", "status");
    this.verdict.setAttribute("aria-live", "polite");
    const bar = part(this.root, "div", "vdf-bar");
    this.play = button(bar, "▶ Play", () => (this.playing ? this.pause() : this.start()), "vdf-play");
    this.slow = button(bar, "Slow motion", () => this.setRate(this.rate === 1 ? 0.25 : 1));
    this.scrub = range(bar, "Time", 100, 0.01, (t) => { this.pause(); this.show(t); });
    this.pace = range(bar, "Speed", 1, 1, (v) => this.setSpeed(v));
    this.mirror = button(bar, "", () => {
      this.mirror.disabled = true;  // until the kernel has driven it
      this.mirror.textContent = "driving it …";
      this.model.set("turn", -this.film.turn);
      this.model.save_changes();
    });
    this.save = button(bar, "Save film", () => {
      this.model.set({ state: this.state, speed: this.speed, saves: this.model.get("saves") + 1 });
      this.model.save_changes();
    });
    this.place = part(this.root, "div", "vdf-place");
    this.canvas = part(this.place, "canvas", "vdf-canvas");
    this.canvas.setAttribute("role", "img");
    this.pen = this.canvas.getContext("2d");
    this.rows = [];
    this.note = part(this.root, "div", "vdf-note");
    let drag = false;
    const move = (event) => {
      const box = this.canvas.getBoundingClientRect(), plan = this.film.plan, [x, y, wide] = plan.strip;
      const at = ((event.clientX - box.left) / box.width) * plan.width, down = ((event.clientY - box.top) / box.height) * plan.height;
      if (event.type === "pointerdown" && (down < y - 26 || at < x - 10)) return;
      drag = true;
      const last = this.film.speeds.length - 1;
      this.setSpeed(Math.min(Math.max(Math.round(((at - x) / wide) * last), 0), last));
    };
    this.canvas.addEventListener("pointerdown", (event) => { if (this.answered) { this.canvas.setPointerCapture(event.pointerId); move(event); } });
    this.canvas.addEventListener("pointermove", (event) => drag && move(event));
    this.canvas.addEventListener("pointerup", () => (drag = false));
  }

  // Take what the kernel sent: at the start, and when the corner turns the other way or another car comes.
  take() {
    const first = !this.film;
    this.film = unpack(this.model.get("sent"), this.model.get("runs"));
    const film = this.film;
    if (first || this.speed >= film.speeds.length) this.speed = film.own;
    this.question.textContent = film.question;
    this.options.replaceChildren();
    film.options.forEach((said, i) => button(this.options, said, () => this.answer(i), "vdf-option"));
    this.place.querySelectorAll(".vdf-row").forEach((row) => row.remove());
    const plan = film.plan, step = plan.strip[3] / film.names.length;
    this.rows = film.names.map((name, i) => {
      const row = button(this.place, name, () => { this.setState(i); this.start(); }, "vdf-row");
      Object.assign(row.style, {
        left: `${(100 * 4) / plan.width}%`, width: `${(100 * (plan.strip[0] - 12)) / plan.width}%`,
        top: `${(100 * (plan.strip[1] + step * i - 1)) / plan.height}%`, height: `${(100 * (step - 1)) / plan.height}%`,
      });
      row.title = i === 0 ? "the car on the left" : `show this one on the right (key ${i})`;
      row.disabled = i === 0;
      return row;
    });
    this.scrub.max = film.step * (film.count - 1);
    this.pace.max = film.speeds.length - 1;
    this.mirror.disabled = false;
    this.mirror.textContent = film.turn > 0 ? "Same corner to the right" : "Same corner to the left";
    this.note.textContent = film.note;
    this.fit();
    this.tell();
  }

  fit() {
    const plan = this.film.plan, sharp = window.devicePixelRatio || 1;
    const around = this.root.closest(".jp-NotebookPanel") ? 318 : 240;  // bars and menus, the chooser, words and buttons
    const letters = parseFloat(getComputedStyle(this.root).fontSize), large = letters >= 18;
    const room = large ? Infinity : Math.max(window.innerHeight - around, 320);  // large letters come before one screen
    const wide = Math.max(Math.min(this.root.clientWidth || plan.width, (room * plan.width) / plan.height, 1340), 320);
    this.place.style.width = `${wide}px`;
    this.place.style.fontSize = `${large ? letters / 0.94 : (12.5 * wide) / plan.width}px`;
    this.scale = (wide * sharp) / plan.width;
    const size = [plan.width, plan.height].map((v) => Math.round(v * this.scale));
    if (this.canvas.width !== size[0] || this.canvas.height !== size[1]) [this.canvas.width, this.canvas.height] = size;
    this.paint();
  }

  paint() {
    this.pen.setTransform(this.scale, 0, 0, this.scale, 0, 0);
    this.now = draw(this.pen, this.film, this.state, this.speed, this.time, !this.answered);
    this.scrub.value = this.time;
    this.scrub.setAttribute("aria-valuetext", `${this.time.toFixed(1)} seconds`);
    this.pace.value = this.speed;
    this.pace.setAttribute("aria-valuetext", this.now.strip.speed);
  }

  // Words over and about the picture: they change with state and speed, not with time.
  tell() {
    const film = this.film;
    this.ask.hidden = this.answered;
    this.verdict.hidden = !this.answered;
    this.headline.textContent = (film.verdicts[this.said] ?? film.verdict) + " ";
    this.sentence.textContent = film.thresholds[this.state];
    this.rows.forEach((row, i) => {
      row.setAttribute("aria-pressed", i === this.state);
      row.disabled = i === 0 || !this.answered;
    });
    const { cars, strip } = this.now;
    this.canvas.setAttribute("aria-label", `${film.alt} At ${strip.speed}: ${film.sentences[this.state][this.speed]}`);
  }

  answer(i) {
    this.model.set("said", i);
    this.model.save_changes();
    this.recall();
    this.tell();
    this.setState(1);
    this.start();
    this.play.focus({ preventScroll: true });
    this.root.scrollIntoView({ block: "nearest" });  // all of it at once, where the page shows only a part
  }

  setState(i) { this.state = i; this.paint(); this.tell(); }

  setSpeed(v) { this.speed = v; this.paint(); this.tell(); if (!this.playing && this.time < 1e-9) this.show(0); }

  setRate(rate) { this.rate = rate; this.slow.setAttribute("aria-pressed", rate < 1); }

  show(time) { this.time = Math.min(Math.max(time, 0), Number(this.scrub.max)); this.paint(); }

  // A press starts the film at once; where the reader wants no motion it shows the end of it instead.
  start() {
    if (!this.answered) return;
    const last = Number(this.scrub.max);
    if (this.calm && !this.asked) { this.asked = true; this.show(last); return; }
    if (this.time > last - 0.05) this.time = 0;
    this.playing = true;
    this.play.textContent = "❚❚ Pause";
    this.before = performance.now();
    this.shown = 0;
    const turn = (clock) => {
      if (!this.playing) return;
      const passed = Math.min(Math.max((clock - this.before) / 1000, 0), 0.1);
      this.before = clock;
      this.shown += 1;
      this.show(this.time + this.rate * passed);
      if (this.time >= last) this.pause();
      else requestAnimationFrame(turn);
    };
    cancelAnimationFrame(this.turn);
    this.turn = requestAnimationFrame(turn);
  }

  pause() { this.playing = false; this.play.textContent = "▶ Play"; }

  key(event) {
    const inRange = event.target.type === "range", name = event.key;
    const acts = {
      " ": () => (this.playing ? this.pause() : this.start()),
      ArrowLeft: () => { this.pause(); this.show(this.time - 0.1); },
      ArrowRight: () => { this.pause(); this.show(this.time + 0.1); },
      ArrowUp: () => this.setSpeed(Math.min(this.speed + 1, this.film.speeds.length - 1)),
      ArrowDown: () => this.setSpeed(Math.max(this.speed - 1, 0)),
      Home: () => { this.pause(); this.show(0); },
      End: () => { this.pause(); this.show(Number(this.scrub.max)); },
      s: () => this.setRate(this.rate === 1 ? 0.25 : 1),
      m: () => this.mirror.click(),  // nothing while it waits
    };
    for (let i = 1; i < this.film.names.length; i++) acts[i] = () => { this.setState(i); this.start(); };
    if (!this.answered || !acts[name] || event.ctrlKey || event.metaKey || event.altKey) return;
    if ((inRange && name !== " " && name.length > 1) || (event.target.tagName === "BUTTON" && name === " ")) return;
    event.preventDefault();
    acts[name]();
  }

  end() { this.pause(); this.watch.disconnect(); }
}

function render({ model, el }) {
  const stage = new Stage(model, el);
  el.stage = stage;  // for tests
  return () => stage.end();
}

export default { render };
