// Cards that are scanned faster than pages load: each is added in its turn, and none is lost.

let turn = Promise.resolve();
let waiting = [];
let mistyped = [];

const field = () => document.querySelector("form[data-adds] [name=add]");

addEventListener("submit", (event) => {
  if (!event.target.matches("[data-adds]")) return;
  event.preventDefault();
  // It is sent from here, as often as something is scanned.
  event.stopImmediatePropagation();
  const scanned = field().value.trim();
  field().value = "";
  if (scanned) waiting.push(scanned);
  turn = turn.then(add);
}, true);

function listed() {
  const cards = document.querySelectorAll("form[data-adds] [name=card]");
  return [...cards].map((one) => ["card", one.value]);
}

function address(asked) {
  return `/several?${new URLSearchParams(asked)}`;
}

async function add() {
  const sent = [...waiting];
  if (!sent.length) return;
  try {
    const asked = [...listed(), ...sent.map((one) => ["card", one])];
    const answer = await fetch(address(asked), { redirect: "error" });
    const read = new DOMParser().parseFromString(await answer.text(), "text/html");
    if (!read.querySelector("form[data-adds]")) throw new Error("not our page");
    waiting = waiting.filter((one) => !sent.includes(one));
    const typed = field().value;
    document.getElementById("main").replaceChildren(...read.getElementById("main").childNodes);
    field().value = typed;
    field().focus();
    keepMistyped();
    history.replaceState(null, "", address(listed()));
  } catch {
    const words = document.querySelector("[data-unheard]");
    words.querySelector("b").textContent = waiting.join(", ");
    words.hidden = false;
  }
}

// The next scan comes before anybody has read what was wrong with the one before.
function keepMistyped() {
  const told = document.querySelector("[data-mistyped]");
  const said = [...told.querySelectorAll("p:not([data-kept])")].map((one) => one.textContent);
  mistyped = [...new Set([...mistyped, ...said])];
  const lines = mistyped.map((one) => Object.assign(document.createElement("p"), { textContent: one }));
  told.replaceChildren(...lines, told.querySelector("[data-kept]"));
  told.hidden = !mistyped.length;
}
