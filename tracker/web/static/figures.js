// Draws the figures of a page. Without this, the tables say the same.
// Plotly is large: on a narrow screen it is fetched only when somebody asks for it.
// What it would write into the page as style stands in office.css: an element of this id and class
// tells it so.
const told = document.createElement("span");
told.id = "plotly.js-style-global";
told.className = "no-inline-styles";
told.hidden = true;
document.body.append(told);

const ink = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
let fetched = null;

function plotly(address) {
  fetched ??= new Promise((resolve, reject) => {
    const script = document.createElement("script");
    script.src = address;
    script.onload = () => resolve(window.Plotly);
    script.onerror = reject;
    document.head.append(script);
  });
  return fetched;
}

function dressed(layout) {
  const axis = { gridcolor: ink("--line"), linecolor: ink("--edge"), tickcolor: ink("--edge") };
  return {
    ...layout,
    xaxis: { ...axis, ...layout.xaxis },
    yaxis: { ...axis, ...layout.yaxis },
    paper_bgcolor: ink("--sheet"),
    plot_bgcolor: ink("--sheet"),
    font: { color: ink("--ink"), family: "system-ui, sans-serif", size: 14 },
    hoverlabel: { bgcolor: ink("--ink"), font: { color: ink("--paper") } },
  };
}

async function draw(figure) {
  const place = figure.querySelector(".plot");
  const says = figure.querySelector(".plot-says");
  figure.querySelector(".draw").hidden = true;
  says.textContent = "Drawing…";
  try {
    const [library, answer] = await Promise.all([plotly(figure.dataset.plotly), fetch(figure.dataset.figure)]);
    if (!answer.ok) throw new Error(answer.status);
    const { data, layout } = await answer.json();
    place.hidden = false;
    await library.newPlot(place, data, dressed(layout), { displayModeBar: false, responsive: true });
    place.setAttribute("role", "img");
    place.setAttribute("aria-label", `${figure.dataset.name}: ${figure.querySelector("figcaption").textContent} The table below says the same.`);
    figure.classList.add("drawn");
    says.textContent = "";
    const save = figure.querySelector(".save");
    save.hidden = false;
    save.onclick = () => keep(library, place, figure.dataset.name);
  } catch {
    fetched = null;
    place.hidden = true;
    says.textContent = "The figure could not be drawn. The table below says the same.";
    figure.querySelector(".draw").hidden = false;
  }
}

async function keep(library, place, name) {
  const { width, height } = place.getBoundingClientRect();
  const picture = await library.toImage(place, { format: "svg", imageDataOnly: true, width, height });
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([picture], { type: "image/svg+xml" }));
  link.download = `${name.replaceAll(" ", "-")}.svg`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}

const wide = matchMedia("(min-width: 48rem)");
for (const figure of document.querySelectorAll("[data-figure]")) {
  const button = figure.querySelector(".draw");
  button.onclick = () => draw(figure);
  if (wide.matches) draw(figure);
  else button.hidden = false;
}
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
  for (const figure of document.querySelectorAll(".figure.drawn")) draw(figure);
});
