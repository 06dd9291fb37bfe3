// Adds comfort only: without it every page still shows its pictures, tables and forms.
"use strict";

/** Whether the screen is wide enough for interactive figures; phones keep the light still pictures. */
const wide = window.matchMedia("(min-width: 46rem)");

/** Fetches the figures' script, which is large, only where figures are to be drawn. */
function fetchFigures() {
  const data = document.getElementById("figures");
  if (!data || !wide.matches) return;
  const script = document.createElement("script");
  script.src = data.dataset.script;
  script.addEventListener("load", () => drawFigures(JSON.parse(data.textContent)));
  document.head.append(script);
}

/** Puts interactive figures in their places, each instead of its still picture. */
function drawFigures(figures) {
  document.querySelectorAll(".figure[data-place]").forEach((place) => {
    const figure = figures[Number(place.dataset.place)];
    if (!figure) return;
    place.hidden = false;
    Plotly.newPlot(place, figure.data, figure.layout, figure.config).then(() => {
      const still = document.getElementById(place.dataset.instead);
      if (still) still.classList.add("replaced");
    });
  });
}

/** A form that was sent cannot be sent again by a second tap; the server counts its key once anyway. */
function sendOnce(event) {
  const form = event.target;
  if (form.method !== "post") return;
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  form.dataset.sent = "1";
}

/** A chosen cause fills in what is usually done about it, until somebody chooses that by hand. */
function fillCorrection(event) {
  const { form, name, dataset } = event.target;
  if (!form || !form.elements.kind) return;
  if (name === "kind") form.dataset.chosen = "1";
  if (dataset.usual && !form.dataset.chosen) form.elements.kind.value = dataset.usual;
}

/** The printed page shows the folded parts that belong on paper. */
function unfoldForPrint() {
  document.querySelectorAll("details:not(.screen)").forEach((part) => { part.open = true; });
}

document.addEventListener("submit", sendOnce);
document.addEventListener("change", fillCorrection);
window.addEventListener("pageshow", () => {
  document.querySelectorAll("form[data-sent]").forEach((form) => { delete form.dataset.sent; });
});
window.addEventListener("beforeprint", unfoldForPrint);
document.addEventListener("DOMContentLoaded", () => {
  fetchFigures();
  const wrong = document.getElementById("errors");
  if (wrong) wrong.focus();
});
