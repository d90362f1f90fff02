/*
 * Placing a shape: it follows the finger at once, and the server says by the exact test of the cut
 * whether it fits there and how much room it has. One question is on its way at a time; the newest
 * place is asked next.
 */
import { arrow, bench, draft, letGo, near, part, side, size, svg, take, where, words } from "./board.js";

const form = document.getElementById("place-form");
const verdict = document.getElementById("fit-verdict");
const field = (name) => form.elements.namedItem(name);
const state = { at: null, grip: null, shown: null, path: "", asking: false, again: 0, last: null, places: [] };

const headers = () => ({ Accept: "application/json", "X-Form-Key": document.body.dataset.formKey });
const body = () => {
  const data = new URLSearchParams();
  for (const name of ["shape", "width", "height", "at", "angle", "side", "tool", "kerf"]) data.set(name, field(name).value);
  return data;
};

function paint() {
  const shape = part("path", { class: "draft-shape", d: state.path });
  if (state.last) shape.dataset.fits = state.last.fits ? "yes" : "no";
  const off = state.shown ? { x: state.at.x - state.shown.x, y: state.at.y - state.shown.y } : { x: 0, y: 0 };
  const halo = part("path", { class: "draft-halo", d: state.path });
  for (const each of [halo, shape]) each.setAttribute("transform", `translate(${off.x} ${off.y})`);
  const places = state.places.flatMap((p) => ["draft-halo", "draft-place"].map((name) => part("path", { class: name, d: p.path })));
  draft.replaceChildren(...places, halo, shape);
}

function tell(answer) {
  const room = `${answer.room_mm.toFixed(1)} mm of room to the ${answer.beside.replace(/^cut/, "cut of")}`;
  verdict.dataset.state = answer.fits ? "fits" : "no";
  verdict.textContent = answer.fits
    ? `It fits: ${room}.` + (answer.held ? ` But the board is held: ${answer.held}.` : "")
    : `It does not fit: ${answer.reason}.`;
  where(`${words(state.at)} mm: ${verdict.textContent}`, verdict.dataset.state);
}

async function ask(since) {
  if (!field("shape").value || !field("at").value) return;
  if (state.asking) {
    state.again = since;
    return;
  }
  state.asking = true;
  const asked = { ...state.at };
  try {
    const answer = await fetch(`/board/${bench.dataset.code}/try`, { method: "POST", body: body(), headers: headers() });
    const value = await answer.json();
    if (answer.ok) {
      Object.assign(state, { last: value, path: value.path, shown: asked });
      paint();
      tell(value);
      performance.measure("verdict", { start: since, end: performance.now() });
    } else {
      state.last = null;
      verdict.dataset.state = "none";
      verdict.textContent = value.hint ? `${value.error}; ${value.hint}` : value.error;
    }
  } catch (error) {
    if (!(error instanceof TypeError)) throw error;
    verdict.textContent = "No connection: the place was not tried.";
  } finally {
    state.asking = false;
  }
  if (state.again) {
    const next = state.again;
    state.again = 0;
    await ask(next);
  }
}

function move(to, since) {
  state.at = { x: near(to.x), y: near(to.y) };
  field("at").value = words(state.at);
  form.dataset.dirty = "yes";
  if (state.path) paint();
  ask(since);
}

function turn(by) {
  field("angle").value = String(near((Number(field("angle").value) || 0) + by));
  ask(performance.now());
}

const user = {
  press(event, at) {
    state.grip = { x: at.x - state.at.x, y: at.y - state.at.y };
    if (Math.hypot(state.grip.x, state.grip.y) > Math.max(size.width, size.height) / 3) state.grip = { x: 0, y: 0 };
  },
  move(event, at) {
    if (!state.grip || !event.buttons) return;
    move({ x: at.x - state.grip.x, y: at.y - state.grip.y }, event.timeStamp);
  },
  lift() {
    state.grip = null;
  },
  key(event) {
    const by = arrow(event);
    if (by) move({ x: state.at.x + by.x, y: state.at.y + by.y }, event.timeStamp);
    else if (event.key === "[" || event.key === "]") turn((event.key === "[" ? 1 : -1) * (event.altKey ? 1 : 5));
    else if (event.key === "Enter") document.getElementById("cut-button").focus();
    else if (event.key === "Escape") letGo(user);
    else return;
    event.preventDefault();
  },
  release() {
    letGo(user);
  },
};

function start() {
  if (!field("shape").value) return;
  const typed = field("at").value.match(/^\s*(-?[0-9.]+)\s*,\s*(-?[0-9.]+)\s*$/);
  const first = (bench.dataset.start || `${size.width / 2},${size.height / 2}`).split(",").map(Number);
  state.at = typed ? { x: Number(typed[1]), y: Number(typed[2]) } : { x: first[0], y: first[1] };
  if (!typed) field("at").value = words(state.at);
  take(user, "place", "The shape on the board: drag it, or move it with the arrow keys");
  ask(performance.now());
}

async function suggest() {
  const list = document.getElementById("suggestions");
  verdict.textContent = "Looking for places…";
  const answer = await fetch(`/board/${bench.dataset.code}/suggest`, { method: "POST", body: body(), headers: headers() });
  const value = await answer.json();
  if (!answer.ok) {
    verdict.textContent = value.error;
    return;
  }
  state.places = value.places;
  list.replaceChildren();
  value.places.forEach((place, number) => {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "small quiet-button";
    button.textContent = `${number + 1}: ${near(place.x_mm)}, ${near(place.y_mm)}, ${near(place.angle)}°`;
    button.addEventListener("click", () => {
      field("angle").value = String(place.angle);
      field("side").value = place.side;
      field("at").value = `${place.x_mm},${place.y_mm}`;
      start();
    });
    const item = document.createElement("li");
    item.append(button);
    list.append(item);
  });
  const count = value.places.length;
  verdict.textContent = count ? `${count} places were found; choose one.` : `No place: ${value.reason || value.verdict}.`;
  if (count) list.querySelector("button").click();
}

async function confirmCut(event) {
  event.preventDefault();
  // What is confirmed is the place as it is now, not one that was passed on the way.
  while (state.asking) await new Promise((go) => setTimeout(go, 20));
  if (state.at) await ask(performance.now());
  const said = state.last ? `${state.last.words}. ${verdict.textContent}` : "";
  document.getElementById("confirm-words").textContent = said || "The place was not tried yet.";
  document.getElementById("confirm").showModal();
}

if (bench && form) {
  document.getElementById("cut-button").addEventListener("click", confirmCut);
  document.getElementById("not-yet").addEventListener("click", () => document.getElementById("confirm").close());
  form.addEventListener("submit", () => document.getElementById("confirm").close());
  document.getElementById("suggest").addEventListener("click", suggest);
  for (const name of ["shape", "width", "height", "at", "angle", "tool", "kerf"]) {
    field(name).addEventListener("change", start);
  }
  bench.addEventListener("bench:side", () => {
    field("side").value = side();
    if (state.at) ask(performance.now());
  });
  document.addEventListener("bench:fresh", () => { if (state.at) ask(performance.now()); });
  svg.addEventListener("focus", () => { if (!bench.dataset.mode && field("shape").value) start(); });
}
