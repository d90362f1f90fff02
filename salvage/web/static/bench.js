/*
 * Every page: forms that go through a lost connection once, and a look at the journal's head, so
 * that what anybody else writes appears. Without this script all forms work as plain forms.
 */
const EVERY_MS = 1500;
const told = document.getElementById("told");

export function say(words, bad = false) {
  told.hidden = !words;
  told.textContent = words;
  told.dataset.bad = bad ? "yes" : "no";
}

/* A form is sent with its key until an answer comes: the same key is recorded once. */
async function send(form, submitter) {
  const address = submitter?.getAttribute("formaction") || form.action;
  const data = new FormData(form);
  const button = submitter || form.querySelector("button[type=submit]");
  const words = button.textContent;
  button.disabled = true;
  for (let wait = 1000; ; wait = Math.min(wait * 1.6, 15000)) {
    try {
      const answer = await fetch(address, {
        method: "POST", body: form.enctype === "multipart/form-data" ? data : new URLSearchParams(data),
        headers: { Accept: "application/json" }, redirect: "error",
      });
      button.disabled = false;
      button.textContent = words;
      say("");
      const value = await answer.json();
      if (answer.ok) return after(form, value);
      return refuse(form, value);
    } catch (error) {
      if (!(error instanceof TypeError)) throw error;
      button.textContent = "No connection: trying again";
      say("No connection. This is kept and sent as soon as there is one; it is recorded once.", true);
      await new Promise((go) => setTimeout(go, wait));
    }
  }
}

function after(form, value) {
  form.dataset.dirty = "no";
  sessionStorage.setItem("told", value.words);
  const there = new URL(value.then, location.href);
  if (there.pathname === location.pathname) {
    location.hash = there.hash;
    location.reload();
  } else {
    location.assign(there);
  }
}

function refuse(form, value) {
  let box = form.querySelector(".problem");
  if (!box) {
    box = document.createElement("div");
    box.className = "problem";
    box.tabIndex = -1;
    box.setAttribute("role", "alert");
    form.prepend(box);
  }
  box.textContent = value.hint ? `${value.error}; ${value.hint}` : value.error;
  box.focus();
  document.title = "Error: " + document.title.replace(/^Error: /, "");
  const field = value.field && form.elements.namedItem(value.field);
  if (field instanceof HTMLElement) field.setAttribute("aria-invalid", "true");
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.matches("form[data-once]")) return;
  event.preventDefault();
  send(form, event.submitter);
});
document.addEventListener("input", (event) => {
  const form = event.target.closest?.("form[data-once]");
  if (form) form.dataset.dirty = "yes";
});

/* What others write appears: parts marked data-live are taken from the page as it is now. */
let head = Number(document.body.dataset.head);

async function refresh() {
  const answer = await fetch(location.href, { headers: { Accept: "text/html" } });
  if (!answer.ok) return;
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
  for (const part of document.querySelectorAll("[data-live]")) {
    const now = fresh.querySelector(`[data-live="${CSS.escape(part.dataset.live)}"]`);
    if (!now || part.contains(document.activeElement)) continue;
    if (part.querySelector('form[data-dirty="yes"]')) continue;
    if (part.innerHTML !== now.innerHTML) part.replaceChildren(...now.childNodes);
  }
  const count = fresh.getElementById("count");
  if (count) document.getElementById("count")?.replaceChildren(...count.childNodes);
  document.dispatchEvent(new CustomEvent("bench:fresh", { detail: fresh }));
}

async function look() {
  if (document.hidden) return;
  try {
    const answer = await fetch("/pulse", { headers: { Accept: "application/json" } });
    if (!answer.ok) return;
    const pulse = await answer.json();
    if (pulse.head !== head) {
      head = pulse.head;
      await refresh();
    }
  } catch (error) {
    if (!(error instanceof TypeError)) throw error;
  }
}
setInterval(look, EVERY_MS);
document.addEventListener("visibilitychange", look);

const kept = sessionStorage.getItem("told");
if (kept) {
  sessionStorage.removeItem("told");
  say(kept);
}
document.getElementById("problem")?.focus();
