// A waveform on a canvas, from millions of samples down to each of them. The server sends the lowest and the highest of
// every column, so that no peak is lost; what is in view is told in words too.

const box = document.getElementById("wave");
const canvas = box.querySelector("canvas");
const pen = canvas.getContext("2d");
const query = box.dataset.query ? `?${box.dataset.query}` : "";
const words = document.getElementById("wave-words");
const css = getComputedStyle(document.documentElement);
const [ink, soft, hair, accent, wrong] = ["ink", "soft", "hair", "accent", "wrong"].map((each) =>
  css.getPropertyValue(`--${each}`).trim(),
);
const LEFT = 64; // room for the scale
const BELOW = 30;
const NAME_HIGH = 18; // on top of a lane
const FEWEST = 12; // samples in view at the nearest

const ask = async (what) => (await fetch(`${box.dataset.at}/${what}`)).json();
const about = await ask(`about${query}`);
const rate = about.rate_hz;
const clamp = (value, low, high) => Math.min(Math.max(value, low), high);

// Two scenes share view, keys and buttons: the recording against samples, and its firings overlaid against milliseconds.
const recording = { low: 0, high: about.n_samples, nearest: FEWEST, data: null };
let overlay = null;
let scene = recording;
let view = { start: 0, stop: about.n_samples };
let iFiring = -1;

const width = () => canvas.clientWidth - LEFT;
const x = (at) => LEFT + ((at - view.start) / (view.stop - view.start)) * width();

function look(start, span) {
  span = clamp(span, scene.nearest, scene.high - scene.low);
  start = clamp(start, scene.low, scene.high - span);
  view = { start, stop: start + span };
  if (scene === recording) fetchColumns();
  redraw();
}

function zoom(factor, at = (view.start + view.stop) / 2) {
  const span = clamp((view.stop - view.start) * factor, scene.nearest, scene.high - scene.low);
  look(at - ((at - view.start) / (view.stop - view.start)) * span, span);
}

const move = (part) => look(view.start + part * (view.stop - view.start), view.stop - view.start);

function toFiring(step) {
  if (!about.firings.length || scene !== recording) return;
  iFiring = clamp(iFiring + step, 0, about.firings.length - 1);
  const { from_s: from, to_s: to } = about.firings[iFiring];
  const margin = Math.max(5e-3, 0.25 * (to - from));
  look((from - margin) * rate, (to - from + 2 * margin) * rate);
}

// One request at a time, always for what is in view last; a little more than that, so that moving shows no gap.
let isAsking = false;
let isStale = false;

async function fetchColumns() {
  const [start, stop] = [view.start, view.stop];
  const span = stop - start;
  const data = recording.data;
  const wanted = Math.max(1, span / width());
  const end = data ? data.start + data.step * data.lanes[0].low.length : 0;
  const isCovered = data && data.start <= Math.max(0, start - 1) && end >= Math.min(stop + 1, about.n_samples);
  if (isCovered && data.step <= 1.3 * wanted && data.step >= 0.4 * wanted) return;
  if (isAsking) {
    isStale = true;
    return;
  }
  isAsking = true;
  const from = Math.max(0, Math.floor(start - span / 2));
  const to = Math.min(about.n_samples, Math.ceil(stop + span / 2));
  const columns = clamp(Math.ceil(((to - from) / span) * width()), 16, 4000);
  try {
    recording.data = await ask(`envelope?start=${from}&stop=${to}&width=${columns}${query.replace("?", "&")}`);
  } finally {
    isAsking = false;
  }
  redraw();
  if (isStale) {
    isStale = false;
    fetchColumns();
  }
}

// -- drawing ----------------------------------------------------------------------------------------------------------

let isDue = false;
function redraw() {
  if (isDue) return;
  isDue = true;
  requestAnimationFrame(() => {
    isDue = false;
    draw();
  });
}

function draw() {
  const scale = devicePixelRatio || 1;
  const [w, h] = [canvas.clientWidth, canvas.clientHeight];
  if (canvas.width !== Math.round(w * scale) || canvas.height !== Math.round(h * scale)) {
    canvas.width = Math.round(w * scale);
    canvas.height = Math.round(h * scale);
  }
  pen.setTransform(scale, 0, 0, scale, 0, 0);
  pen.fillStyle = "#fff";
  pen.fillRect(0, 0, w, h);
  pen.font = "13px system-ui, sans-serif";
  timeScale(h);
  if (scene === overlay) drawOverlay({ top: 8, bottom: h - BELOW });
  else drawRecording(h - BELOW);
  tell();
}

// The lanes share the height; a test's marks stand in the lane they belong to, else in all.
function drawRecording(bottom) {
  const data = recording.data;
  if (!data) return;
  const high = (bottom - 8) / about.lanes.length;
  for (const [i, each] of about.lanes.entries()) {
    const at = { top: 8 + Math.round(i * high) + (i ? 8 : 0), bottom: 8 + Math.round((i + 1) * high) - (i + 1 < about.lanes.length ? 6 : 0) };
    const { low, high: most } = data.lanes[i];
    const y = each.is_undone
      ? lane(at, -0.15, 1.45, each.name, "of the level", 1)
      : lane(at, ...range(low, most, data), each.name, "% of full scale", 100);
    for (const mark of about.marks) if ((mark.i_lane ?? i) === i && mark.to_s !== null) drawSpan(mark, at);
    if (i === about.i_widths) for (const [n, firing] of about.firings.entries()) drawWidths(firing, n, y);
    trace(data, low, most, y, each.is_undone ? accent : ink);
    for (const mark of about.marks) if ((mark.i_lane ?? i) === i && mark.to_s === null) drawMark(mark, at, y);
  }
}

const inLane = (at) => {
  pen.save();
  pen.beginPath();
  pen.rect(LEFT, at.top, width(), at.bottom - at.top);
  pen.clip();
};

function drawSpan(mark, at) {
  const [from, to] = [x(mark.at_s * rate), x(mark.to_s * rate)];
  if (to < LEFT || from > canvas.clientWidth) return;
  inLane(at);
  hatch(from, at.top, Math.max(2, to - from), at.bottom - at.top);
  pen.restore();
}

function drawMark(mark, at, y) {
  const where = x(mark.at_s * rate);
  if (where < LEFT || where > canvas.clientWidth) return;
  inLane(at);
  pen.strokeStyle = wrong;
  pen.fillStyle = wrong;
  pen.lineWidth = 2;
  if (mark.sign === "tick") line([where, at.bottom], [where, at.bottom - Math.min(22, 0.15 * (at.bottom - at.top))]);
  else if (mark.sign === "up" || mark.sign === "down") {
    const [middle, side] = [y(0.5), mark.sign === "up" ? 7 : -7];
    pen.beginPath();
    pen.moveTo(where, middle - side);
    pen.lineTo(where - 6, middle + side);
    pen.lineTo(where + 6, middle + side);
    pen.fill();
  } else {
    pen.setLineDash(mark.sign === "dashed" ? [7, 5] : []);
    line([where, at.top], [where, at.bottom]);
  }
  pen.restore();
}

function extremes(low, high, data, [least, most]) {
  const first = Math.max(0, Math.floor((view.start - data.start) / data.step));
  const last = Math.min(low.length, Math.ceil((view.stop - data.start) / data.step) + 1);
  for (let i = first; i < last; i++) {
    if (low[i] < least) least = low[i];
    if (high[i] > most) most = high[i];
  }
  return [least, most];
}

function range(low, high, data) {
  const seen = data.step > 1 ? [0, 0] : [Infinity, -Infinity]; // seen by the sample, zero may be out of sight
  const [least, most] = extremes(low, high, data, seen);
  const room = 0.08 * (most - least || 2e-4);
  return [least - room, most + room];
}

// A lane with its name on top and its scale; answers where a value stands.
function lane(at, least, most, name, unit, times) {
  at.top += NAME_HIGH;
  const y = (value) => at.bottom - ((value - least) / (most - least)) * (at.bottom - at.top);
  pen.save();
  pen.strokeStyle = hair;
  pen.fillStyle = soft;
  pen.textAlign = "right";
  pen.textBaseline = "middle";
  const step = nice(((most - least) * times * 34) / (at.bottom - at.top));
  for (let value = Math.ceil((least * times) / step) * step; value <= most * times; value += step) {
    pen.globalAlpha = Math.abs(value) < step / 2 ? 1 : 0.55;
    line([LEFT, y(value / times)], [canvas.clientWidth, y(value / times)]);
    pen.globalAlpha = 1;
    pen.fillText(short(value, step), LEFT - 6, y(value / times));
  }
  pen.textAlign = "left";
  pen.fillStyle = "#fff";
  pen.fillRect(LEFT + 4, at.top - NAME_HIGH, pen.measureText(`${name}, ${unit}`).width + 8, NAME_HIGH);
  pen.fillStyle = ink;
  pen.fillText(`${name}, ${unit}`, LEFT + 8, at.top - NAME_HIGH / 2);
  pen.restore();
  return y;
}

function timeScale(h) {
  const isMs = scene === overlay;
  const perUnit = isMs ? 1 : rate;
  const span = (view.stop - view.start) / perUnit;
  const step = nice((span * 90) / width());
  pen.fillStyle = soft;
  pen.strokeStyle = hair;
  pen.textAlign = "center";
  pen.textBaseline = "alphabetic";
  for (let at = Math.ceil(view.start / perUnit / step) * step; at <= view.stop / perUnit; at += step) {
    line([x(at * perUnit), 8], [x(at * perUnit), h - BELOW]);
    if (x(at * perUnit) < canvas.clientWidth - 70) pen.fillText(short(at, step), x(at * perUnit), h - 10);
  }
  pen.textAlign = "right";
  pen.fillText(isMs ? "ms from half open" : "s", canvas.clientWidth - 6, h - 10);
}

function trace(data, low, high, y, colour) {
  pen.save();
  pen.beginPath();
  pen.rect(LEFT, 0, width(), canvas.clientHeight);
  pen.clip();
  pen.strokeStyle = colour;
  pen.fillStyle = colour;
  pen.lineWidth = 1.25;
  pen.beginPath();
  const first = Math.max(0, Math.floor((view.start - data.start) / data.step) - 1);
  const last = Math.min(low.length, Math.ceil((view.stop - data.start) / data.step) + 2);
  let isDown = false;
  for (let i = first; i < last; i++) {
    if (low[i] === null) {
      isDown = false;
      continue;
    }
    const at = x(data.start + (i + (data.step > 1 ? 0.5 : 0)) * data.step);
    if (isDown) pen.lineTo(at, y(low[i]));
    else pen.moveTo(at, y(low[i]));
    if (high[i] !== low[i]) pen.lineTo(at, y(high[i]));
    isDown = true;
  }
  pen.stroke();
  if (data.step === 1 && width() / (view.stop - view.start) > 5) {
    for (let i = first; i < last; i++) if (low[i] !== null) dot(x(data.start + i), y(low[i]), 2.5);
  }
  pen.restore();
}

function drawWidths(each, i, y) {
  const [from, to] = [x(each.at_s * rate), x((each.at_s + (each.half_peak_s ?? 0)) * rate)];
  if (to < LEFT - 400 || from > canvas.clientWidth + 400) return;
  pen.save();
  pen.beginPath();
  pen.rect(LEFT, 0, width(), canvas.clientHeight);
  pen.clip();
  pen.fillStyle = ink;
  pen.textAlign = "center";
  if (to - from < 30) {
    if (width() / about.firings.length > 24 || i % 10 === 0) pen.fillText(i + 1, (from + to) / 2, y(1.12));
    pen.restore();
    return;
  }
  const perS = rate * (width() / (view.stop - view.start));
  const middle = (from + to) / 2;
  const half = ((each.effective_s ?? 0) * perS) / 2;
  hatch(middle - half, y(1), 2 * half, y(0) - y(1));
  pen.strokeStyle = wrong;
  pen.lineWidth = 2;
  const doubt = (each.expanded_s ?? 0) * perS;
  bar(middle + half - doubt, middle + half + doubt, y(0.75), 7);
  pen.strokeStyle = ink;
  bar(from, to, y(0.5), 9);
  pen.setLineDash([7, 5]);
  const total = ((each.total_s ?? 0) * perS) / 2;
  bar(middle - total, middle + total, y(0.1), 7);
  pen.setLineDash([2, 4]);
  line([middle - total, y(1)], [middle + total, y(1)]);
  pen.setLineDash([]);
  const ms = 1e3 * (each.effective_s ?? 0);
  const digits = each.expanded_s ? clamp(1 - Math.floor(Math.log10(1e3 * each.expanded_s)), 0, 3) : 2;
  const shown = `${i + 1}: effective ${ms.toFixed(digits)} ± ${(1e3 * (each.expanded_s ?? 0)).toFixed(digits)} ms`;
  const [text, room] = to - from > 220 ? [shown, 110] : [i + 1, 10];
  pen.fillText(text, clamp(middle, LEFT + room, canvas.clientWidth - room), y(1.12));
  pen.restore();
}

function hatch(left, top, wide, high) {
  pen.save();
  pen.beginPath();
  pen.rect(left, top, wide, high);
  pen.clip();
  pen.strokeStyle = hair;
  pen.lineWidth = 1;
  const first = Math.max(left, LEFT) - high;
  for (let at = first - (first % 9); at < Math.min(left + wide, canvas.clientWidth); at += 9) line([at, top + high], [at + high, top]);
  pen.restore();
  pen.strokeStyle = soft;
  pen.strokeRect(left, top, wide, high);
}

const STROKES = [[], [8, 4], [2, 3], [10, 3, 2, 3]];

function drawOverlay(at) {
  const y = lane(at, -0.15, 1.25, "every firing, undone", "of its level", 1);
  pen.save();
  pen.beginPath();
  pen.rect(LEFT, 0, width(), canvas.clientHeight);
  pen.clip();
  for (const [i, curve] of overlay.curves.entries()) {
    pen.strokeStyle = i % 2 ? accent : ink;
    pen.setLineDash(STROKES[i % STROKES.length]);
    pen.beginPath();
    curve.ms.forEach((ms, k) => (k ? pen.lineTo(x(ms), y(curve.light[k])) : pen.moveTo(x(ms), y(curve.light[k]))));
    pen.stroke();
  }
  pen.restore();
}

function line(from, to) {
  pen.beginPath();
  pen.moveTo(...from);
  pen.lineTo(...to);
  pen.stroke();
}

function bar(from, to, at, half) {
  line([from, at], [to, at]);
  line([from, at - half], [from, at + half]);
  line([to, at - half], [to, at + half]);
}

function dot(at, y, radius) {
  pen.beginPath();
  pen.arc(at, y, radius, 0, 2 * Math.PI);
  pen.fill();
}

function nice(least) {
  const power = 10 ** Math.floor(Math.log10(least));
  return power * ([1, 2, 5, 10].find((each) => each * power >= least) ?? 10);
}

const short = (value, step) => value.toFixed(clamp(-Math.floor(Math.log10(step) + 1e-9), 0, 7)).replace("-", "−");

// -- words ------------------------------------------------------------------------------------------------------------

let told = null;
function tell() {
  clearTimeout(told);
  told = setTimeout(() => {
    words.textContent = scene === overlay ? overlayWords() : recordingWords();
  }, 250);
}

function recordingWords() {
  const [from, to] = [view.start / rate, view.stop / rate];
  const span = to - from;
  const inView = about.firings.flatMap((each, i) => (each.from_s < to && each.to_s > from ? [i] : []));
  const marked = about.marks.filter((mark) => mark.at_s < to && (mark.to_s ?? mark.at_s) > from);
  const data = recording.data;
  const [least, most] = data ? extremes(data.lanes[0].low, data.lanes[0].high, data, [Infinity, -Infinity]) : [0, 0];
  const count = Math.round(view.stop - view.start);
  const digits = clamp(2 - Math.floor(Math.log10(span)), 2, 6);
  const which =
    inView.length === 0 ? "no firing"
    : inView.length === 1 ? `firing ${inView[0] + 1}${firingWords(about.firings[inView[0]])}${about.doubtful.includes(inView[0] + 1) ? ", doubtful" : ""}`
    : `firings ${inView[0] + 1} to ${inView.at(-1) + 1}`;
  return (
    `In view: ${from.toFixed(digits)} s to ${to.toFixed(digits)} s, ${count.toLocaleString("en")} samples; recorded within ` +
    `${(100 * least).toFixed(1)} % and ${(100 * most).toFixed(1)} % of full scale; ${which}.` +
    (marked.length && marked.length <= MOST_TOLD ? ` ${marked.map(markWords).join("; ")}.` : "")
  ).replaceAll("-", "−");
}

const MOST_TOLD = 8; // marks in words
const markWords = ({ name, at_s: at, to_s: to }) => `${name} at ${at.toFixed(5)} s${to === null ? "" : ` to ${to.toFixed(5)} s`}`;

function firingWords(each) {
  if (each.effective_s === undefined) return "";
  const doubt = each.expanded_s ? ` ± ${(1e3 * each.expanded_s).toPrecision(2)}` : "";
  return `, effective ${(1e3 * each.effective_s).toPrecision(4)}${doubt} ms`;
}

function overlayWords() {
  const all = about.firings.map((each) => each.effective_s).filter((each) => each !== undefined);
  const spread = all.length ? `; effective times from ${(1e3 * Math.min(...all)).toPrecision(4)} to ${(1e3 * Math.max(...all)).toPrecision(4)} ms` : "";
  return `${overlay.curves.length} firings overlaid, from ${view.start.toFixed(2)} ms to ${view.stop.toFixed(2)} ms after half open${spread}.`.replaceAll("-", "−");
}

// -- hands ------------------------------------------------------------------------------------------------------------

async function toggleOverlay(button) {
  if (!overlay) {
    const { curves } = await ask(`overlaid${query}`);
    const all = curves.flatMap((each) => [each.ms[0], each.ms.at(-1)]);
    overlay = { curves, low: Math.min(...all), high: Math.max(...all), nearest: 0.2 };
  }
  scene = scene === overlay ? recording : overlay;
  button.setAttribute("aria-pressed", String(scene === overlay));
  look(scene.low, scene.high - scene.low);
}

const acts = {
  in: () => zoom(0.5),
  out: () => zoom(2),
  left: () => move(-0.25),
  right: () => move(0.25),
  whole: () => look(scene.low, scene.high - scene.low),
  previous: () => toFiring(-1),
  next: () => toFiring(1),
  overlaid: toggleOverlay,
};
const keys = { "+": "in", "=": "in", "-": "out", "−": "out", ArrowLeft: "left", ArrowRight: "right", Home: "whole", n: "next", p: "previous" };

document.getElementById("wave-buttons").hidden = false;
document.getElementById("wave-buttons").addEventListener("click", (event) => {
  const button = event.target.closest("button");
  if (button) acts[button.dataset.act](button);
});
box.addEventListener("keydown", (event) => {
  const act = keys[event.key] ?? keys[event.key.toLowerCase()];
  if (!act || event.ctrlKey || event.metaKey || event.altKey) return;
  event.preventDefault();
  acts[act]();
});

const place = (event) => {
  const left = canvas.getBoundingClientRect().left + LEFT;
  return view.start + ((event.clientX - left) / width()) * (view.stop - view.start);
};

box.addEventListener(
  "wheel",
  (event) => {
    event.preventDefault();
    if (event.shiftKey || Math.abs(event.deltaX) > Math.abs(event.deltaY)) move((event.deltaX || event.deltaY) / 1000);
    else zoom(1.0015 ** clamp(event.deltaY, -600, 600), place(event));
  },
  { passive: false },
);

const fingers = new Map();
box.addEventListener("pointerdown", (event) => {
  box.setPointerCapture(event.pointerId);
  fingers.set(event.pointerId, event.clientX);
});
for (const name of ["pointerup", "pointercancel"]) box.addEventListener(name, (event) => fingers.delete(event.pointerId));
box.addEventListener("pointermove", (event) => {
  if (!fingers.has(event.pointerId)) return;
  const before = [...fingers.values()];
  fingers.set(event.pointerId, event.clientX);
  const after = [...fingers.values()];
  const perPx = (view.stop - view.start) / width();
  if (fingers.size === 1) look(view.start - (after[0] - before[0]) * perPx, view.stop - view.start);
  else {
    const apart = (list) => Math.max(16, Math.abs(list[0] - list[1]));
    const left = canvas.getBoundingClientRect().left + LEFT;
    zoom(apart(before) / apart(after), view.start + ((after[0] + after[1]) / 2 - left) * perPx);
  }
});

new ResizeObserver(() => {
  fetchColumns();
  redraw();
}).observe(canvas);
fetchColumns();
redraw();
