// The operating map: what fails where, the region that is left, and the duty as a point to be dragged.

import { VERDICT, capital, el, number, percent, unit } from "./words.js";

const LEFT = 58, RIGHT = 14, TOP = 12, BOTTOM = 44;
const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
const zone = (id, which) => colour(`--${which}-${id}`) || colour(`--${which}-other`);
const rgb = (hex) => [1, 3, 5].map((at) => parseInt(hex.length === 4 ? hex[(at + 1) / 2].repeat(2) : hex.slice(at, at + 2), 16));
const mixed = (a, b, share) => a.map((part, k) => Math.round(part * share + b[k] * (1 - share)));

const ticks = (low, high, wanted) => {
  const raw = (high - low) / wanted, power = 10 ** Math.floor(Math.log10(raw));
  const step = [1, 2, 2.5, 5, 10].map((part) => part * power).find((part) => part >= raw * 0.999);
  const found = [];
  for (let at = Math.ceil(low / step - 1e-9); at * step <= high + 1e-9 * step; at++) found.push(+(at * step).toPrecision(12));
  return found;
};

// Fill what is left with the zone nearest to it, so that zones reach up to the solved boundary.
const spread = (fails, governing) => {
  const rows = fails.length, columns = fails[0].length;
  const held = fails.map((row, j) => row.map((bad, i) => (bad ? governing[j][i] : -1)));
  let front = [];
  held.forEach((row, j) => row.forEach((code, i) => code >= 0 && front.push([j, i])));
  while (front.length) {
    const next = [];
    for (const [j, i] of front) {
      for (const [b, a] of [[j - 1, i], [j + 1, i], [j, i - 1], [j, i + 1]]) {
        if (b >= 0 && a >= 0 && b < rows && a < columns && held[b][a] < 0) { held[b][a] = held[j][i]; next.push([b, a]); }
      }
    }
    front = next;
  }
  return held;
};

const inside = (region, x, y) => {
  let odd = false;
  for (const polygon of region) {
    for (let k = 0, j = polygon.x.length - 1; k < polygon.x.length; j = k++) {
      const [x1, y1, x2, y2] = [polygon.x[k], polygon.y[k], polygon.x[j], polygon.y[j]];
      if (y1 > y !== y2 > y && x < ((x2 - x1) * (y - y1)) / (y2 - y1) + x1) odd = !odd;
    }
  }
  return odd;
};

export class OperatingMap {
  constructor(holder, { read, moved }) {
    Object.assign(this, { holder, read, moved, answer: null });
    this.canvas = el("canvas", { "aria-hidden": "true" });
    this.svg = el("svg:svg", { role: "group", "aria-label": "Operating map" });
    holder.append(this.canvas, this.svg);
    this.svg.addEventListener("pointerdown", (event) => this.grab(event));
    this.svg.addEventListener("pointermove", (event) => this.held && this.drag(event));
    for (const end of ["pointerup", "pointercancel"]) this.svg.addEventListener(end, (event) => this.release(event));
    new ResizeObserver(() => this.answer && holder.clientWidth !== this.width && this.draw()).observe(holder);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.answer && this.draw());
  }

  show(answer) {
    this.answer = answer;
    const { x, y } = answer.duty_point;
    this.at = x === null || y === null ? null : { x, y };
    const keep = this.svg.contains(document.activeElement);
    this.draw();
    if (keep) this.point?.focus();
  }

  ends(axis) {
    const { values } = this.answer[axis];
    return [values[0], values.at(-1)];
  }

  draw() {
    const { answer } = this;
    if (!this.holder.clientWidth) return; // not shown: the observer draws it when it is
    const width = (this.width = this.holder.clientWidth), height = Math.round(Math.min(460, Math.max(300, 0.66 * width)));
    const [w, h] = [width - LEFT - RIGHT, height - TOP - BOTTOM];
    const [x1, x2] = this.ends("x"), [y1, y2] = this.ends("y");
    Object.assign(this, {
      px: (x) => LEFT + ((x - x1) / (x2 - x1)) * w, py: (y) => TOP + h - ((y - y1) / (y2 - y1)) * h,
      dx: (px) => x1 + ((px - LEFT) / w) * (x2 - x1), dy: (py) => y1 + ((TOP + h - py) / h) * (y2 - y1), size: [w, h],
    });
    this.fails = answer.status.map((row) => row.map((code) => answer.statuses[code] === "fail"));
    this.zones = spread(this.fails, answer.governing);
    this.paint(w, h);
    this.svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
    this.svg.setAttribute("height", height);
    this.svg.replaceChildren(...this.edges(), ...this.axes(w, h), ...this.labels(w, h), ...this.duty());
    this.place();
  }

  paint(w, h) {
    const { answer } = this, ratio = Math.min(window.devicePixelRatio || 1, 2);
    const [columns, rows] = [answer.x.values.length, answer.y.values.length];
    this.canvas.style.left = `${LEFT}px`; this.canvas.style.top = `${TOP}px`;
    this.canvas.style.width = `${w}px`; this.canvas.style.height = `${h}px`;
    const [wide, high] = [Math.round(w * ratio), Math.round(h * ratio)];
    Object.assign(this.canvas, { width: wide, height: high });
    const context = this.canvas.getContext("2d"), picture = context.createImageData(wide, high);
    const paper = rgb(colour("--paper")), care = rgb(colour("--caution")), dark = paper[0] < 128;
    this.tint = (id) => (dark ? mixed(rgb(zone(id, "edge")), paper, 0.42) : rgb(zone(id, "fails")));
    const tints = answer.criteria.map((item) => this.tint(item.id));
    const careful = answer.status.map((row) => row.map((code) => (answer.statuses[code] === "caution" ? 1 : 0)));
    const left = this.mask(wide, high, ratio);
    // Between the nodes of the grid the nine around a pixel have a say, by the weights of a quadratic spline: no stairs.
    const weights = (at) => [0.5 * (0.5 - at) ** 2, 0.75 - at * at, 0.5 * (0.5 + at) ** 2];
    const within = (at, n) => Math.min(Math.max(at, 0), n - 1);
    const votes = new Float64Array(answer.criteria.length);
    for (let b = 0; b < high; b++) {
      const v = (1 - (b + 0.5) / high) * (rows - 1), j = Math.round(v), down = weights(v - j);
      for (let a = 0; a < wide; a++) {
        const u = ((a + 0.5) / wide) * (columns - 1), i = Math.round(u), across = weights(u - i), kept = left[4 * (b * wide + a) + 3] > 127;
        let close = 0, best = -1;
        votes.fill(0);
        for (let m = 0; m < 9; m++) {
          const row = within(j + Math.floor(m / 3) - 1, rows), column = within(i + (m % 3) - 1, columns), weight = down[Math.floor(m / 3)] * across[m % 3];
          const code = this.zones[row][column];
          close += weight * careful[row][column];
          if (code >= 0 && (votes[code] += weight) > (votes[best] ?? 0)) best = code;
        }
        let ink = kept || best < 0 ? paper : tints[best];
        if (kept && close > 0.5 && (a + b) % Math.round(8 * ratio) < 1.3 * ratio) ink = care;
        const at = 4 * (b * wide + a);
        [picture.data[at], picture.data[at + 1], picture.data[at + 2], picture.data[at + 3]] = [...ink, 255];
      }
    }
    context.putImageData(picture, 0, 0);
  }

  // Where nothing fails, as pixels: the browser fills the polygons by the even-odd rule.
  mask(wide, high, ratio) {
    const drawn = new OffscreenCanvas(wide, high).getContext("2d");
    for (const polygon of this.answer.region) {
      polygon.x.forEach((x, k) => drawn.lineTo((this.px(x) - LEFT) * ratio, (this.py(polygon.y[k]) - TOP) * ratio));
      drawn.closePath();
    }
    drawn.fill("evenodd");
    return drawn.getImageData(0, 0, wide, high).data;
  }

  edges() {
    const { criteria, region } = this.answer, under = [], over = [];
    for (const polygon of region) {
      polygon.governing.forEach((beyond, k) => {
        if (beyond === null) return;
        const n = (k + 1) % polygon.x.length, at = (i) => `${this.px(polygon.x[i]).toFixed(1)} ${this.py(polygon.y[i]).toFixed(1)}`;
        const d = `M${at(k)}L${at(n)}`;
        under.push(el("svg:path", { class: "under", d }));
        over.push(el("svg:path", { class: "edge", d, stroke: zone(criteria[beyond].id, "edge") }));
      });
    }
    return [...under, ...over];
  }

  axes(w, h) {
    const [x1, x2] = this.ends("x"), [y1, y2] = this.ends("y"), parts = [];
    for (const x of ticks(x1, x2, Math.max(3, w / 90))) {
      const at = this.px(x);
      parts.push(el("svg:g", { class: "tick" }, el("svg:path", { d: `M${at} ${TOP + h}v5` }), el("svg:text", { x: at, y: TOP + h + 18, "text-anchor": "middle" }, number(x, 4))));
    }
    for (const y of ticks(y1, y2, Math.max(3, h / 60))) {
      const at = this.py(y);
      parts.push(el("svg:g", { class: "tick" }, el("svg:path", { d: `M${LEFT} ${at}h-5` }), el("svg:text", { x: LEFT - 8, y: at + 4, "text-anchor": "end" }, number(y, 4))));
    }
    const title = (axis) => `${capital(axis.title)}, ${unit(axis.unit)}`;
    parts.push(
      el("svg:rect", { class: "frame", x: LEFT, y: TOP, width: w, height: h }),
      el("svg:text", { x: LEFT + w / 2, y: TOP + h + 38, "text-anchor": "middle" }, title(this.answer.x)),
      el("svg:text", { transform: `translate(13 ${TOP + h / 2}) rotate(-90)`, "text-anchor": "middle" }, title(this.answer.y)),
    );
    return parts;
  }

  // A zone bears its name where it is widest, if there is room.
  labels(w, h) {
    const { criteria } = this.answer, rows = this.zones.length, columns = this.zones[0].length, best = new Map();
    for (let j = 1; j < rows - 1; j++) {
      for (let i = 0, start = 0; i <= columns; i++) {
        const code = this.fails[j][start] ? this.zones[j][start] : -1;
        if (i < columns && this.fails[j][i] && this.zones[j][i] === code) continue;
        if (code >= 0) {
          const long = i - start, middle = start + Math.floor(long / 2);
          let up = 0, down = 0;
          while (j + up + 1 < rows && this.fails[j + up + 1][middle] && this.zones[j + up + 1][middle] === code) up++;
          while (j - down - 1 >= 0 && this.fails[j - down - 1][middle] && this.zones[j - down - 1][middle] === code) down++;
          const room = Math.min((long / columns) * w, 3.5 * ((Math.min(up, down) * 2) / rows) * h);
          if (room > (best.get(code)?.room ?? 0)) best.set(code, { room, wide: (long / columns) * w, high: ((up + down) / rows) * h, x: ((start + (long - 1) / 2) / (columns - 1)) * w, y: h - (j / (rows - 1)) * h });
        }
        start = i;
      }
    }
    return [...best].filter(([code, { wide, high }]) => wide > 7.2 * criteria[code].title.length + 8 && high > 20).map(([code, { x, y }]) => {
      const text = el("svg:text", { class: "zone", x: LEFT + x, y: TOP + y + 4 }, criteria[code].title);
      text.style.setProperty("--under", `rgb(${this.tint(criteria[code].id)})`);
      return text;
    });
  }

  legend() {
    const { answer } = this, key = (fill, stroke, words, hatch) => el("li", {}, el("svg:svg", { viewBox: "0 0 18 12", "aria-hidden": "true" },
      el("svg:rect", { x: 0.5, y: 0.5, width: 17, height: 11, fill, stroke }), hatch && el("svg:path", { d: "M2 11L10 1M8 11L16 1", stroke, "stroke-width": 1.3 })), words);
    const shown = new Set(answer.status.flat().map((code) => answer.statuses[code]));
    const failing = [...new Set(this.zones.flatMap((row, j) => row.filter((_, i) => this.fails[j][i])))];
    return [
      shown.has("pass") && key("var(--paper)", "var(--soft)", "passes"),
      shown.has("caution") && key("var(--paper)", "var(--caution)", "passes with care", true),
      ...failing.map((code) => key(`rgb(${this.tint(answer.criteria[code].id)})`, zone(answer.criteria[code].id, "edge"), `fails by ${answer.criteria[code].title}`)),
    ].filter(Boolean);
  }

  duty() {
    if (!this.at) return [];
    this.hairs = [el("svg:path", { class: "hair" }), el("svg:path", { class: "hair" })];
    this.point = el("svg:g", { class: "point", tabindex: "0", role: "slider", "aria-label": "Duty on the map" },
      el("svg:circle", { class: "grip", r: 24 }), el("svg:circle", { class: "ring", r: 9 }), el("svg:circle", { class: "core", r: 5.5 }));
    this.point.addEventListener("keydown", (event) => this.key(event));
    return [...this.hairs, this.point];
  }

  // What governs at a place: by the solved boundary whether it fails, by the nearest node of the grid what decides.
  look({ x, y }) {
    const { answer } = this, [x1, x2] = this.ends("x"), [y1, y2] = this.ends("y");
    const near = (value, low, high, n) => Math.min(n - 1, Math.max(0, Math.round(((value - low) / (high - low)) * (n - 1))));
    let [i, j] = [near(x, x1, x2, answer.x.values.length), near(y, y1, y2, answer.y.values.length)];
    const exact = answer.duty_point.x === x && answer.duty_point.y === y;
    if (exact) return { ...answer.duty_point.governing, verdict: answer.duty_point.verdict };
    const fails = x <= x2 && y <= y2 && x >= x1 && y >= y1 ? !inside(answer.region, x, y) : this.fails[j][i];
    if (fails !== this.fails[j][i]) {
      const around = [[j, i - 1], [j, i + 1], [j - 1, i], [j + 1, i]].find(([b, a]) => this.fails[b]?.[a] === fails);
      if (around) [j, i] = around;
    }
    const item = answer.criteria[answer.governing[j][i]];
    return { ...item, verdict: answer.statuses[answer.status[j][i]], utilization: answer.utilization[j][i] };
  }

  words() {
    const { at, answer } = this, found = this.look(at);
    const share = found.utilization === null ? "" : ` at ${percent(found.utilization)} of its limit`;
    return { found, where: `${number(at.x)} ${unit(answer.x.unit)}, ${number(at.y)} ${unit(answer.y.unit)}`, what: `${VERDICT[found.verdict]}; ${found.title} governs${share}` };
  }

  place() {
    if (!this.at) return this.read(null);
    const [w, h] = this.size;
    const x = Math.min(Math.max(this.px(this.at.x), LEFT), LEFT + w), y = Math.min(Math.max(this.py(this.at.y), TOP), TOP + h);
    const { found, where, what } = this.words(), [low, high] = this.ends("x");
    this.point.setAttribute("transform", `translate(${x.toFixed(1)} ${y.toFixed(1)})`);
    this.point.setAttribute("class", `point ${found.verdict}`);
    for (const [name, value] of [["valuemin", low], ["valuemax", high], ["valuenow", this.at.x], ["valuetext", `${where}: ${what}`]]) this.point.setAttribute(`aria-${name}`, value);
    this.hairs[0].setAttribute("d", `M${LEFT} ${y}H${x}`);
    this.hairs[1].setAttribute("d", `M${x} ${TOP + h}V${y}`);
    return this.read({ found, where, what });
  }

  set(x, y) {
    const round = (value, [low, high]) => {
      const step = 10 ** Math.floor(Math.log10((high - low) / 200)), held = Math.min(Math.max(value, low), high);
      return +(Math.round(held / step) * step).toPrecision(10);
    };
    this.at = { x: round(x, this.ends("x")), y: round(y, this.ends("y")) };
    this.place();
  }

  where(event) {
    const box = this.svg.getBoundingClientRect();
    return [this.dx(event.clientX - box.left), this.dy(event.clientY - box.top)];
  }

  grab(event) {
    if (!this.at || event.button) return;
    this.held = true;
    this.svg.setPointerCapture(event.pointerId);
    this.drag(event);
    event.preventDefault();
    this.point.focus({ preventScroll: true });
  }

  drag(event) { this.set(...this.where(event)); }

  release() {
    if (!this.held) return;
    this.held = false;
    this.moved(this.at);
  }

  key(event) {
    const step = event.shiftKey ? 0.1 : 0.02, [x1, x2] = this.ends("x"), [y1, y2] = this.ends("y");
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowDown: [0, -1], ArrowUp: [0, 1] }[event.key];
    if (!way) return;
    event.preventDefault();
    this.set(this.at.x + way[0] * step * (x2 - x1), this.at.y + way[1] * step * (y2 - y1));
    clearTimeout(this.later);
    this.later = setTimeout(() => this.moved(this.at), 500);
  }
}
