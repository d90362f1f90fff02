/* The board's picture: sides, layers, zoom. */
const bench = document.getElementById("bench");
if (bench) {
  const { width, height, pad } = Object.fromEntries(
    Object.entries(bench.dataset).map(([name, value]) => [name, Number(value)]));
  const whole = { x: -pad, y: -pad, w: width + 2 * pad, h: height + 2 * pad };
  let view = { ...whole };
  const svg = () => document.getElementById("board-svg");

  const show = () => {
    svg().setAttribute("viewBox", `${view.x} ${view.y} ${view.w} ${view.h}`);
    bench.dataset.zoomed = view.w < whole.w * 0.99 ? "yes" : "no";
  };
  const zoom = (factor, at) => {
    const w = Math.min(whole.w, Math.max(5, view.w * factor));
    const share = w / view.w;
    view = { x: at.x - (at.x - view.x) * share, y: at.y - (at.y - view.y) * share, w, h: view.h * share };
    if (w === whole.w) view = { ...whole };
    show();
  };
  const middle = () => ({ x: view.x + view.w / 2, y: view.y + view.h / 2 });
  const turn = (side) => {
    bench.dataset.side = side;
    const back = side === "back";
    document.getElementById("turn").setAttribute("transform", back ? `translate(${width} 0) scale(-1 1)` : "");
    for (const name of document.querySelectorAll(".cut-name")) {
      name.setAttribute("x", back ? width - Number(name.dataset.x) : Number(name.dataset.x));
    }
    for (const button of bench.querySelectorAll("[data-side]")) {
      button.setAttribute("aria-pressed", String(button.dataset.side === side));
    }
  };
  const layers = () => {
    for (const box of bench.querySelectorAll("input[data-layer]")) {
      for (const part of svg().querySelectorAll(`[data-of="${box.dataset.layer}"]`)) {
        part.toggleAttribute("hidden", !box.checked);
        part.style.display = box.checked ? "" : "none";
      }
    }
  };

  bench.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (button?.dataset.zoom === "fit") { view = { ...whole }; show(); }
    else if (button?.dataset.zoom) zoom(button.dataset.zoom === "in" ? 0.7 : 1 / 0.7, middle());
    else if (button?.dataset.side) turn(button.dataset.side);
  });
  bench.addEventListener("change", layers);
  document.addEventListener("bench:fresh", () => { show(); turn(bench.dataset.side || "front"); layers(); });
  layers();
}
