// What script adds to pages that work without it: a scanner's label goes to the field for finding;
// the page says when something was logged since; an old page does not give leave to format.

const ASK_EVERY_MS = 5_000;
const TRUSTED_FOR_MS = 120_000;
const IDLE_MS = 10_000;

const body = document.body;
const changed = document.querySelector(".changed");
let confirmed = performance.now();
let touched = performance.now();
const marks = [...document.querySelectorAll("[data-card]")].map((one) => [one.value.split(" ", 1)[0], one.dataset.card]);

for (const kind of ["pointermove", "pointerdown", "keydown", "scroll", "wheel"]) {
  addEventListener(kind, () => { touched = performance.now(); }, { passive: true });
}

// A hand scanner types wherever the cursor is: where nobody is typing, into the field for scanning.
const TYPED_IN = "textarea, select, input:not([type=radio], [type=checkbox], [type=file], [type=submit])";
addEventListener("keydown", (event) => {
  const field = document.getElementById("code") ?? document.getElementById("find");
  if (!field || event.key.length !== 1 || event.key === " " || event.ctrlKey || event.metaKey || event.altKey) return;
  if (!event.target.matches(TYPED_IN)) {
    field.value = "";
    field.focus();
  }
});

// Enter in a field of a tap's form sends nothing, and what was typed there stays.
addEventListener("keydown", (event) => {
  const field = event.target.matches("input") && event.target.form?.elements.tap;
  if (event.key === "Enter" && field) event.preventDefault();
});

// A leave to format goes with the page's age, and with what is logged about its cards.
function trust() {
  const old = performance.now() - confirmed > TRUSTED_FOR_MS;
  body.classList.toggle("old", old);
  for (const words of document.querySelectorAll(".ask")) words.ariaHidden = String(!old);
}

// Only a mouse that rests, on a page that nobody is filling in: a finger may be on its way.
function mayReload() {
  // What answers a form is shown once: a link, or what was typed.
  if ("answersForm" in body.dataset) return false;
  const fine = matchMedia("(pointer: fine)").matches;
  const idle = performance.now() - touched > IDLE_MS;
  const filling = document.querySelector("details[open] form, :is(input, select, textarea):focus");
  return fine && idle && !filling && !document.querySelector("form[data-edited]");
}

function here() {
  const url = new URL(location.href);
  url.searchParams.delete("said");
  url.searchParams.delete("again");
  url.searchParams.delete("entered");
  return url.href;
}

async function ask() {
  if (document.visibilityState !== "visible") return;
  try {
    const answer = await fetch(`/changes?${new URLSearchParams(marks.map(([, label]) => ["card", label]))}`, { headers: { Accept: "application/json" }, redirect: "error" });
    if (!answer.ok) return;
    const said = await answer.json();
    if (typeof said.logged !== "string") return;
    const same = said.logged === body.dataset.logged;
    // What is logged about other cards takes no leave from a page that says which are its own.
    if (same || (marks.length && marks.every(([mark, label]) => said.marks[label] === mark))) {
      if (confirmed > -Infinity) confirmed = performance.now();
    } else {
      // What it says may be wrong by now, however young it is.
      confirmed = -Infinity;
      trust();
    }
    if (!same) {
      if (mayReload()) location.replace(here());
      else if (changed) changed.hidden = false;
    }
  } catch { /* It is asked again, and an old page says that it is old. */ }
}

if (body.dataset.logged) {
  setInterval(async () => { await ask(); trust(); }, ASK_EVERY_MS);
  document.addEventListener("visibilitychange", () => { trust(); ask().then(trust); });
}

addEventListener("input", (event) => {
  const form = event.target.closest("form");
  if (form && !form.classList.contains("find")) form.dataset.edited = "";
});

// A second press on a button that was pressed says nothing new.
addEventListener("submit", (event) => {
  const form = event.target;
  if (form.dataset.sent) { event.preventDefault(); return; }
  form.dataset.sent = "1";
  setTimeout(() => { delete form.dataset.sent; }, 5_000);
});
addEventListener("pageshow", (event) => {
  if (event.persisted) location.replace(here());
});
