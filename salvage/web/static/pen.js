/*
 * The pen: keep-outs and outlines drawn on the picture with mouse, finger or keys. What is drawn
 * stands in the form's field as people would type it, and what is typed there is drawn.
 */
import { arrow, bench, draft, letGo, mmOf, near, part, size, svg, take, where, words } from "./board.js";

const WORDS = {
  box: "Draw a box: one corner, then the opposite one",
  round: "Draw a circle: the middle, then its rim",
  corners: "Draw corners in order, one after the other",
  outline: "Draw the outline's corners in order, one after the other",
};
const form = document.getElementById("keepout-form");
const pen = { mode: "", points: [], at: { x: size.width / 2, y: size.height / 2 }, held: -1, keyed: false };

const field = () => document.getElementById(pen.mode === "outline" ? "f-outline" : "f-corners");

/* What is drawn as text, and back. */
function text(points) {
  if (pen.mode === "round" && points.length > 1) {
    const radius = Math.hypot(points[1].x - points[0].x, points[1].y - points[0].y);
    return `${words(points[0])} r${near(radius)}`;
  }
  return points.map(words).join(" ");
}

function points(typed) {
  const found = [...typed.matchAll(/(-?[0-9.]+),(-?[0-9.]+)/g)].map((m) => ({ x: Number(m[1]), y: Number(m[2]) }));
  const radius = typed.match(/\br([0-9.]+)/i);
  if (radius && found.length === 1) found.push({ x: found[0].x + Number(radius[1]), y: found[0].y });
  return found;
}

function shapeOf(all) {
  if (all.length < 2) return "";
  const [a, b] = all;
  if (pen.mode === "round") {
    const r = Math.hypot(b.x - a.x, b.y - a.y);
    return `M${a.x - r} ${a.y}a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0Z`;
  }
  if (pen.mode === "box" && all.length === 2) return `M${a.x} ${a.y}H${b.x}V${b.y}H${a.x}Z`;
  return "M" + all.map((p) => `${p.x} ${p.y}`).join("L") + "Z";
}

function draw(loose = null) {
  const all = loose ? [...pen.points, loose] : pen.points;
  const corner = mmOf(5);
  const cross = mmOf(12);
  draft.replaceChildren(...["draft-halo", "draft-shape"].map((name) => part("path", { class: name, d: shapeOf(all) })));
  for (const p of pen.points) draft.append(part("circle", { class: "draft-corner", cx: p.x, cy: p.y, r: corner }));
  if (pen.keyed) {
    const { x, y } = pen.at;
    draft.append(part("path", { class: "draft-cross", d: `M${x - cross} ${y}H${x + cross}M${x} ${y - cross}V${y + cross}` }));
  }
  if (pen.mode) field().value = text(all);
}

const full = () => (pen.mode === "box" || pen.mode === "round") && pen.points.length >= 2;

function put(at) {
  if (full()) pen.points = [];
  pen.points.push({ x: near(at.x), y: near(at.y) });
  draw();
  const count = pen.points.length;
  where(`corner ${count} at ${words(at)} mm` + (full() ? "; say why and mark it" : ""));
}

const user = {
  press(event, at) {
    pen.keyed = false;
    pen.held = pen.points.findIndex((p) => Math.hypot(p.x - at.x, p.y - at.y) < mmOf(14));
    if (pen.held < 0) {
      put(at);
      pen.held = full() ? -1 : pen.points.length - 1;
      pen.from = { ...at };
    }
  },
  move(event, at) {
    where(`${words(at)} mm`);
    if (pen.held < 0 || !event.buttons) return;
    if (pen.from && pen.points.length === 1 && pen.mode !== "corners" && pen.mode !== "outline") draw({ x: near(at.x), y: near(at.y) });
    else {
      pen.points[pen.held] = { x: near(at.x), y: near(at.y) };
      draw();
    }
  },
  lift(event, at) {
    const far = pen.from && Math.hypot(at.x - pen.from.x, at.y - pen.from.y) > mmOf(6);
    if (far && pen.points.length === 1 && (pen.mode === "box" || pen.mode === "round")) put(at);
    pen.from = null;
    pen.held = -1;
  },
  key(event) {
    const move = arrow(event);
    if (move) {
      pen.keyed = true;
      pen.at = { x: near(pen.at.x + move.x), y: near(pen.at.y + move.y) };
      draw(pen.points.length && !full() ? pen.at : null);
      where(`${words(pen.at)} mm`);
    } else if (event.key === "Enter" || event.key === " ") {
      put(pen.at);
    } else if (event.key === "Backspace") {
      pen.points.pop();
      draw();
    } else if (event.key === "Escape") {
      stop();
      return;
    } else return;
    event.preventDefault();
  },
  release() {
    stop();
  },
};

function press(mode) {
  for (const button of document.querySelectorAll("[data-draw]")) {
    button.setAttribute("aria-pressed", String(button.dataset.draw === mode));
  }
}

function stop() {
  press("");
  pen.mode = "";
  letGo(user);
}

export function begin(mode, given = []) {
  take(user, "draw", WORDS[mode]);
  pen.mode = mode;
  pen.points = given;
  pen.keyed = false;
  press(mode);
  draw();
  where(WORDS[mode]);
  svg.focus({ preventScroll: true });
  svg.scrollIntoView({ block: "nearest" });
}

function redraw(button) {
  form.action = form.action.replace(/\/(keepout|redraw)$/, "/redraw");
  form.elements.namedItem("n").value = button.dataset.edit;
  form.elements.namedItem("reason").value = button.dataset.reason;
  document.getElementById("keepout-button").textContent = "Keep it as it is now";
  const note = document.getElementById("redrawing");
  note.textContent = `Keep-out ${button.dataset.edit} is being drawn anew: pull its corners.`;
  note.hidden = false;
  begin("corners", points(button.dataset.corners));
}

const reveal = () => document.querySelectorAll("[data-edit]").forEach((button) => { button.hidden = false; });

if (bench && form) {
  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-draw], [data-edit]");
    if (button?.dataset.edit) redraw(button);
    else if (button && button.getAttribute("aria-pressed") === "true") stop();
    else if (button) begin(button.dataset.draw);
  });
  for (const name of ["f-corners", "f-outline"]) {
    document.getElementById(name)?.addEventListener("input", (event) => {
      const typed = points(event.target.value);
      const mode = name === "f-outline" ? "outline" : /r[0-9]/i.test(event.target.value) ? "round" : typed.length > 2 ? "corners" : "box";
      take(user, "draw", WORDS[mode]);
      pen.mode = mode;
      pen.points = typed;
      const value = event.target.value;
      draw();
      event.target.value = value;
    });
  }
  document.addEventListener("bench:fresh", reveal);
  reveal();
}
