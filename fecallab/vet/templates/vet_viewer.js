/* The picture, full size: an SVG whose viewBox moves and grows; mouse, wheel, touch, pinch and keys. */
const SVG = "http://www.w3.org/2000/svg";
const viewer = byId("viewer"), stage = byId("stage");
const MOST_LABELS = 300, LABEL_PX = 15, FINGER_PX = 30;
const view = { field: -1, no: 0, x: 0, y: 0, w: 1, h: 1, adding: false, drawn: -1, pending: 0 };
const svgMake = (tag, attributes) => {
  const made = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes || {})) made.setAttribute(name, value);
  return made;
};
const isOpen = () => viewer.hasAttribute("open");
const box = () => stage.getBoundingClientRect();
const perPixel = () => { const b = box(); return Math.max(view.w / (b.width || 1), view.h / (b.height || 1)); };
const marksHere = () => order.map((no) => things.get(no)).filter((one) => one.field === view.field);
const missedHere = () => missed.filter((one) => one.field === view.field);

function ellipsePath(one) {
  const turn = (one.turn * Math.PI) / 180, x = one.x + 0.5, y = one.y + 0.5;
  const dx = one.rx * Math.cos(turn), dy = one.rx * Math.sin(turn);
  const arc = `a${one.rx} ${one.ry} ${one.turn} 1 0 `;
  return `M${(x - dx).toFixed(1)} ${(y - dy).toFixed(1)}${arc}${(2 * dx).toFixed(1)} ${(2 * dy).toFixed(1)}${arc}${(-2 * dx).toFixed(1)} ${(-2 * dy).toFixed(1)}z`;
}

/* How far the outline reaches to the upper right, where the number stands. */
function edge(one) {
  const aim = -Math.PI / 4 - (one.turn * Math.PI) / 180;
  return Math.hypot(one.rx * Math.cos(aim), one.ry * Math.sin(aim));
}

/* All outlines of one colour are one path, so that thousands of marks are a handful of elements. */
function drawField() {
  const field = data.fields[view.field];
  stage.replaceChildren();
  stage.append(svgMake("image", { href: byId("picture-" + view.field).src, width: field.width, height: field.height, preserveAspectRatio: "none" }));
  const looks = new Map();
  marksHere().forEach((one) => {
    const look = one.colour + (one.sure ? "" : "?");
    looks.set(look, (looks.get(look) || "") + ellipsePath(one));
  });
  for (const kind of ["under", "ink", "colour"]) {
    for (const [look, d] of looks) {
      const path = svgMake("path", { d, class: kind + (look.endsWith("?") ? " unsure" : "") });
      if (kind === "colour") path.setAttribute("stroke", look.replace("?", ""));
      stage.append(path);
    }
  }
  stage.append(svgMake("g", { id: "chosen" }), svgMake("g", { id: "labels" }));
  view.drawn = view.field;
}

function paint() {
  view.pending = 0;
  stage.setAttribute("viewBox", `${view.x} ${view.y} ${view.w} ${view.h}`);
  const unit = perPixel(), size = LABEL_PX * unit;
  const inside = marksHere().filter((one) => one.x > view.x - one.rx && one.x < view.x + view.w + one.rx && one.y > view.y - one.ry && one.y < view.y + view.h + one.ry);
  stage.classList.toggle("crowded", inside.length > MOST_LABELS);
  const labels = byId("labels"), texts = [];
  const label = (x, y, text, answered) => {
    const made = svgMake("text", { transform: `translate(${x} ${y})scale(${size})` });
    made.textContent = text + (answered ? " ✓" : "");
    texts.push(made);
  };
  if (inside.length <= MOST_LABELS) {
    inside.forEach((one) => {
      const away = edge(one) + 5 * unit;
      label(one.x + 0.5 + away * Math.SQRT1_2, one.y + 0.5 - away * Math.SQRT1_2, one.no + (one.sure ? "" : "?"), whole(saidOf.get(one.no)));
    });
    hint("");
  } else {
    hint(inside.length + " marks in view: come closer to see their numbers");
  }
  missedHere().forEach((one) => label(one.x + 6 * unit, one.y - 6 * unit, "missed: " + (organismWords.get(one.name) || one.name || "which?")));
  labels.replaceChildren(...texts);
  const chosen = byId("chosen"), rings = [];
  const ring = (one, grow) => {
    const d = ellipsePath({ ...one, rx: one.rx + grow, ry: one.ry + grow });
    rings.push(svgMake("path", { d, class: "chosen white" }), svgMake("path", { d, class: "chosen" }));
  };
  const now = things.get(view.no);
  if (now && now.field === view.field) ring(now, 7 * unit);
  missedHere().forEach((one) => ring({ ...one, rx: 9 * unit, ry: 9 * unit, turn: 0 }, 0));
  chosen.replaceChildren(...rings);
}
function repaint() { if (!view.pending && view.field >= 0) view.pending = requestAnimationFrame(paint); }
function hint(text) { const shown = view.adding ? "Tap the place, or press Enter for the middle" : text; if (byId("viewer-hint").textContent !== shown) byId("viewer-hint").textContent = shown; }

function look(x, y, w) {
  const field = data.fields[view.field], b = box();
  const widest = Math.max(field.width, (field.height * b.width) / (b.height || 1)) * 1.02;
  view.w = Math.min(Math.max(w, 24), widest);
  view.h = (view.w * b.height) / (b.width || 1);
  const keep = (at, span, whole) => (span >= whole ? (whole - span) / 2 : Math.min(Math.max(at, -span / 3), whole - (span * 2) / 3));
  view.x = keep(x, view.w, field.width);
  view.y = keep(y, view.h, field.height);
  repaint();
}
function zoom(factor, clientX, clientY) {
  const b = box();
  const fx = clientX === undefined ? 0.5 : (clientX - b.left) / b.width, fy = clientY === undefined ? 0.5 : (clientY - b.top) / b.height;
  const px = view.x + fx * view.w, py = view.y + fy * view.h;
  const field = data.fields[view.field];
  const w = Math.min(Math.max(view.w * factor, 24), Math.max(field.width, (field.height * b.width) / b.height) * 1.02);
  look(px - fx * w, py - (fy * w * b.height) / b.width, w);
}
const showWhole = () => look(0, 0, Infinity);

function goTo(no) {
  const one = things.get(no);
  if (!one) return;
  view.no = no;
  viewer.classList.toggle("no-picture", one.field < 0);
  byId("viewer-title").textContent = one.field < 0 ? "Counted at the eyepiece" : data.fields[one.field].title;
  if (one.field >= 0) {
    view.field = one.field;
    if (view.drawn !== one.field) drawField();
    const b = box(), w = Math.max(5 * Math.max(one.rx, one.ry), 60) * Math.max(1, b.width / (b.height || 1));
    look(one.x - w / 2, one.y - (w * b.height) / (b.width || 1) / 2, w);
  }
  sayWhich();
}
function sayWhich() {
  const one = things.get(view.no);
  const fit = one && one.fit ? ", " + one.fit : "";
  byId("viewer-said").textContent = one ? `${one.no}: ${one.name}${one.sure ? "" : ", unsure"}${one.size ? ", " + one.size : ""}${fit}` : "No mark is chosen: tap one.";
  byId("viewer-say").hidden = !one;
  showViewerWords();
}
function openField(field, no) {
  viewer.classList.remove("no-picture");
  if (viewer.showModal) { if (!isOpen()) viewer.showModal(); } else viewer.setAttribute("open", "");
  view.field = field; view.no = 0; adding(false);
  if (field >= 0) {
    byId("viewer-title").textContent = data.fields[field].title;
    drawField();
    showWhole();
    sayWhich();
  }
  if (no) goTo(no);
  stage.setAttribute("aria-label", field >= 0 ? "Picture " + data.fields[field].title + " with its numbered marks" : "No picture");
  (field >= 0 ? stage : byId("viewer-close")).focus();
}
function closeViewer() { if (viewer.close) viewer.close(); else viewer.removeAttribute("open"); view.field = -1; view.drawn = -1; stage.replaceChildren(); }
function turnTo(step) {
  const here = view.no ? order : marksHere().map((one) => one.no);
  const at = view.no ? order.indexOf(view.no) + step : step > 0 ? 0 : here.length - 1;
  if (here.length) goTo(here[(at + here.length) % here.length]);
}

function adding(on) {
  view.adding = on;
  byId("add-missed").setAttribute("aria-pressed", String(on));
  stage.classList.toggle("adding", on);
  hint("");
}
function addMissed(x, y) {
  const one = { field: view.field, x: Math.round(x * 10) / 10, y: Math.round(y * 10) / 10, name: "", guess: false, remark: "" };
  const field = data.fields[view.field];
  adding(false);
  if (x < -0.5 || y < -0.5 || x >= field.width || y >= field.height) { hint("That lies outside the picture."); return; }
  missed.push(one);
  tell("missed");
  askMissed(one);
}
function askMissed(one) {
  view.no = 0;
  byId("viewer-said").textContent = "Missed here: which organism?";
  byId("viewer-say").hidden = false;
  const which = byId("viewer-say").querySelector(".which");
  byId("viewer-say").querySelector(".words").hidden = true;
  const drop = make("button", "take this back");
  drop.type = "button";
  drop.addEventListener("click", () => { missed.splice(missed.indexOf(one), 1); tell("missed"); sayWhich(); repaint(); stage.focus(); });
  which.replaceChildren(choose(0, one, (more) => { Object.assign(one, more); tell("missed"); repaint(); }), drop);
  which.dataset.no = "missed";
  which.hidden = false;
  which.querySelector("select").focus();
  repaint();
}

const showWords = wireWords(byId("viewer-say"), () => view.no);
function showViewerWords() { byId("viewer-say").querySelector(".words").hidden = false; showWords(); }
listeners.push(() => { if (isOpen()) repaint(); });

const fingers = new Map();
let moved = 0;
function toPicture(event) { const b = box(); return [view.x + ((event.clientX - b.left) / b.width) * view.w - 0.5, view.y + ((event.clientY - b.top) / b.height) * view.h - 0.5]; }
stage.addEventListener("pointerdown", (event) => {
  if (!fingers.size) moved = 0;
  fingers.set(event.pointerId, event);
  stage.setPointerCapture(event.pointerId);
});
stage.addEventListener("pointermove", (event) => {
  const before = fingers.get(event.pointerId);
  if (!before) return;
  const b = box(), others = [...fingers.values()].filter((one) => one.pointerId !== event.pointerId);
  moved += Math.hypot(event.clientX - before.clientX, event.clientY - before.clientY);
  if (others.length) {
    const other = others[0], apart = (a) => Math.hypot(a.clientX - other.clientX, a.clientY - other.clientY) || 1;
    zoom(apart(before) / apart(event), (event.clientX + other.clientX) / 2, (event.clientY + other.clientY) / 2);
    moved = 99;
  }
  const part = others.length ? 0.5 : 1;
  look(view.x - ((event.clientX - before.clientX) * view.w * part) / b.width, view.y - ((event.clientY - before.clientY) * view.h * part) / b.height, view.w);
  fingers.set(event.pointerId, event);
});
const lifted = (event) => {
  const down = fingers.delete(event.pointerId);
  if (!down || fingers.size || event.type === "pointercancel" || moved > 8) return;
  const [x, y] = toPicture(event);
  if (view.adding) { addMissed(x, y); return; }
  let best = null, least = FINGER_PX * perPixel();
  marksHere().forEach((one) => {
    const away = Math.max(0, Math.hypot(one.x - x, one.y - y) - Math.min(one.rx, one.ry));
    if (away < least || (away === 0 && least === 0 && Math.hypot(one.x - x, one.y - y) < Math.hypot(best.x - x, best.y - y))) { best = one; least = away; }
  });
  const near = missedHere().find((one) => Math.hypot(one.x - x, one.y - y) < Math.max(least, FINGER_PX * perPixel() * 0.5));
  if (near && (!best || least > 0)) { askMissed(near); return; }
  if (best) { view.no = best.no; sayWhich(); repaint(); }
};
stage.addEventListener("pointerup", lifted);
stage.addEventListener("pointercancel", lifted);
stage.addEventListener("wheel", (event) => { event.preventDefault(); zoom(Math.exp(Math.min(Math.max(event.deltaY, -240), 240) / 400), event.clientX, event.clientY); }, { passive: false });
stage.addEventListener("dblclick", (event) => zoom(0.5, event.clientX, event.clientY));
stage.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
  if (step) look(view.x + (step[0] * view.w) / 8, view.y + (step[1] * view.h) / 8, view.w);
  else if (event.key === "+" || event.key === "=") zoom(0.7);
  else if (event.key === "-") zoom(1 / 0.7);
  else if (event.key === "0") showWhole();
  else if (event.key === "n") turnTo(1);
  else if (event.key === "b") turnTo(-1);
  else if (event.key === "Enter" && view.adding) addMissed(view.x + view.w / 2 - 0.5, view.y + view.h / 2 - 0.5);
  else return;
  event.preventDefault();
});
viewer.querySelectorAll("[data-zoom]").forEach((button) => button.addEventListener("click", () => (button.dataset.zoom === "whole" ? showWhole() : zoom(button.dataset.zoom === "in" ? 0.6 : 1 / 0.6))));
viewer.querySelectorAll("[data-turn]").forEach((button) => button.addEventListener("click", () => turnTo(Number(button.dataset.turn))));
byId("add-missed").addEventListener("click", () => { adding(!view.adding); if (view.adding) stage.focus(); });
byId("viewer-close").addEventListener("click", closeViewer);
viewer.addEventListener("close", () => { if (view.field >= 0 || view.drawn >= 0) closeViewer(); });
window.addEventListener("resize", () => { if (isOpen() && view.field >= 0) look(view.x, view.y, view.w); });
document.addEventListener("click", (event) => {
  const asked = event.target.closest("[data-look], [data-field], [data-counts], .one[data-no]");
  if (!asked || asked.closest("fieldset.say") && !asked.dataset.look) return;
  const no = Number(asked.dataset.look || asked.dataset.no || 0);
  if (asked.hasAttribute("data-counts")) openField(-1, data.counts[0][0]);
  else if (no) { const one = things.get(no); if (one) openField(one.field, no); }
  else openField(Number(asked.dataset.field));
});
