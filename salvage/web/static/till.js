/* The till: a tap puts a piece into the basket or takes it out; the sum is the server's. */
const form = document.getElementById("till");
if (form) {
  const field = form.elements.namedItem("words");
  const sum = document.getElementById("sum");
  const words = () => field.value.split(/\s+/).filter(Boolean);
  let turn = 0;

  const count = async () => {
    const mine = ++turn;
    for (const goods of form.querySelectorAll(".goods")) {
      goods.setAttribute("aria-pressed", String(words().includes(goods.dataset.word)));
    }
    sum.dataset.state = "none";
    if (!words().length) {
      sum.textContent = "The basket is empty.";
      return;
    }
    const headers = { Accept: "application/json", "X-Form-Key": document.body.dataset.formKey };
    try {
      const answer = await fetch(form.dataset.try, { method: "POST", body: new URLSearchParams(new FormData(form)), headers });
      const value = await answer.json();
      if (mine !== turn) return;
      sum.dataset.state = answer.ok ? "fits" : "no";
      sum.textContent = answer.ok ? `${value.lines.length} in the basket: ${value.words}` : `${value.error} ${value.hint ? `(${value.hint})` : ""}`;
    } catch (error) {
      if (!(error instanceof TypeError)) throw error;
      sum.textContent = "No connection: the sum comes when the sale is sent.";
    }
  };

  form.addEventListener("click", (event) => {
    const goods = event.target.closest(".goods");
    if (!goods) return;
    const word = goods.dataset.word;
    const kept = words();
    field.value = (kept.includes(word) ? kept.filter((each) => each !== word) : [...kept, word]).join(" ");
    form.dataset.dirty = "yes";
    count();
  });
  field.addEventListener("change", count);
  form.addEventListener("change", (event) => { if (event.target.name === "paid-by" && words().length) count(); });
}
