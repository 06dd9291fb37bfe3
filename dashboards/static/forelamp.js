// Adds comfort only: without it every page still shows its pictures, tables and forms.
"use strict";

/** Puts interactive figures where the page has places and data for them. */
function drawFigures() {
  const data = document.getElementById("figures");
  if (!data || typeof Plotly === "undefined") return;
  const figures = JSON.parse(data.textContent);
  document.querySelectorAll(".figure[data-place]").forEach((place) => {
    const figure = figures[Number(place.dataset.place)];
    if (!figure) return;
    Plotly.newPlot(place, figure.data, figure.layout, figure.config).then(() => {
      place.hidden = false;
      const still = document.getElementById(place.dataset.instead);
      if (still) still.hidden = true;
      Plotly.Plots.resize(place);
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

/** The printed page shows the folded parts that belong on paper. */
function unfoldForPrint() {
  document.querySelectorAll("details:not(.screen)").forEach((part) => { part.open = true; });
}

document.addEventListener("submit", sendOnce);
window.addEventListener("pageshow", () => {
  document.querySelectorAll("form[data-sent]").forEach((form) => { delete form.dataset.sent; });
});
window.addEventListener("beforeprint", unfoldForPrint);
document.addEventListener("DOMContentLoaded", () => {
  drawFigures();
  const wrong = document.getElementById("errors");
  if (wrong) wrong.focus();
});
