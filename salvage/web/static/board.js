/*
 * The board's picture: sides, layers, zoom, and where a finger is in millimetres of the board.
 * Drawing (pen.js) and placing (place.js) rest on it; only one of them has the picture at a time.
 */
export const bench = document.getElementById("bench");
const facts = bench ? bench.dataset : { width: "1", height: "1", pad: "0" };
const [width, height, pad] = [facts.width, facts.height, facts.pad].map(Number);
export const svg = document.getElementById("board-svg");
export const draft = document.getElementById("draft");
const whole = { x: -pad, y: -pad, w: width + 2 * pad, h: height + 2 * pad };
let view = { ...whole };
let user = null;

export const size = { width, height };
export const side = () => bench.dataset.side || "front";

/* A place on the screen as x, y of the board: from the lower left corner of its front. */
export function placeOf(event) {
  const frame = document.getElementById("board-frame");
  const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(frame.getScreenCTM().inverse());
  return { x: point.x, y: point.y };
}

/* Millimetres that so many pixels of the screen are, so that fingers hit corners at any zoom. */
export const mmOf = (px) => px * view.w / svg.getBoundingClientRect().width;
export const near = (value) => Math.round(value * 10) / 10;
export const words = (at) => `${near(at.x)},${near(at.y)}`;

export function part(name, attributes) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
}

export function where(text, state = "") {
  document.getElementById("where").textContent = text;
  const line = document.getElementById("read-out");
  if (state) line.dataset.state = state;
  else delete line.dataset.state;
}

/* Who draws now: it gets pointers and keys until it lets go or another one takes over. */
export function take(owner, mode, label) {
  if (user && user !== owner) user.release();
  user = owner;
  bench.dataset.mode = mode;
  svg.tabIndex = 0;
  svg.setAttribute("role", "application");
  svg.setAttribute("aria-label", label);
  svg.setAttribute("aria-describedby", "keys");
  document.getElementById("keys").hidden = false;
}

export function letGo(owner) {
  if (user !== owner) return;
  user = null;
  bench.dataset.mode = "";
  draft.replaceChildren();
  document.getElementById("keys").hidden = true;
}

export const step = (event) => (event.shiftKey ? 10 : event.altKey ? 0.1 : 1);
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };

/* The move that an arrow key means on the board; on the back, left is right. */
export function arrow(event) {
  const move = ARROWS[event.key];
  if (!move) return null;
  const turn = side() === "back" ? -1 : 1;
  return { x: move[0] * turn * step(event), y: move[1] * step(event) };
}

function show() {
  svg.setAttribute("viewBox", `${view.x} ${view.y} ${view.w} ${view.h}`);
  bench.dataset.zoomed = view.w < whole.w * 0.99 ? "yes" : "no";
}

function zoom(factor, at) {
  const w = Math.min(whole.w, Math.max(5, view.w * factor));
  const share = w / view.w;
  view = { x: at.x - (at.x - view.x) * share, y: at.y - (at.y - view.y) * share, w, h: view.h * share };
  if (w === whole.w) view = { ...whole };
  show();
}

function turn(to) {
  bench.dataset.side = to;
  const back = to === "back";
  document.getElementById("turn").setAttribute("transform", back ? `translate(${width} 0) scale(-1 1)` : "");
  for (const name of svg.querySelectorAll(".cut-name")) {
    name.setAttribute("x", back ? width - Number(name.dataset.x) : Number(name.dataset.x));
  }
  for (const button of bench.querySelectorAll("[data-side]")) {
    button.setAttribute("aria-pressed", String(button.dataset.side === to));
  }
  bench.dispatchEvent(new CustomEvent("bench:side", { detail: to }));
}

function layers() {
  for (const box of bench.querySelectorAll("input[data-layer]")) {
    for (const each of svg.querySelectorAll(`[data-of="${box.dataset.layer}"]`)) {
      each.style.display = box.checked ? "" : "none";
    }
  }
}

/* Pinch and pan; what is left of pointers goes to whoever draws. */
const down = new Map();
let pinch = 0;
const onScreen = (event) => new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());

function moved(event) {
  const before = down.get(event.pointerId);
  if (before) down.set(event.pointerId, { x: event.clientX, y: event.clientY });
  if (down.size === 2) {
    const [a, b] = [...down.values()];
    const apart = Math.hypot(a.x - b.x, a.y - b.y);
    if (pinch) zoom(pinch / apart, onScreen({ clientX: (a.x + b.x) / 2, clientY: (a.y + b.y) / 2 }));
    pinch = apart;
    return;
  }
  if (user) return user.move?.(event, placeOf(event));
  if (before && bench.dataset.zoomed === "yes") {
    view = { ...view, x: view.x - mmOf(event.clientX - before.x), y: view.y - mmOf(event.clientY - before.y) };
    show();
  }
}

if (bench) {
  bench.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (button?.dataset.zoom === "fit") { view = { ...whole }; show(); }
    else if (button?.dataset.zoom) zoom(button.dataset.zoom === "in" ? 0.7 : 1 / 0.7, { x: view.x + view.w / 2, y: view.y + view.h / 2 });
    else if (button?.dataset.side) turn(button.dataset.side);
  });
  bench.addEventListener("change", layers);
  document.addEventListener("bench:fresh", () => { turn(side()); layers(); });
  svg.addEventListener("pointerdown", (event) => {
    down.set(event.pointerId, { x: event.clientX, y: event.clientY });
    svg.setPointerCapture(event.pointerId);
    if (user && down.size === 1) user.press?.(event, placeOf(event));
  });
  svg.addEventListener("pointermove", moved);
  for (const end of ["pointerup", "pointercancel"]) {
    svg.addEventListener(end, (event) => {
      down.delete(event.pointerId);
      pinch = 0;
      if (user && end === "pointerup") user.lift?.(event, placeOf(event));
    });
  }
  svg.addEventListener("keydown", (event) => user?.key?.(event));
  svg.addEventListener("wheel", (event) => {
    if (!event.ctrlKey && !event.metaKey) return;
    event.preventDefault();
    zoom(Math.exp(event.deltaY / 300), onScreen(event));
  }, { passive: false });
  layers();
}
