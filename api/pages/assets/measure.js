// The form for a measurement: a stepper, and only the questions that matter.
"use strict";

const form = document.querySelector("form.measure");
if (form) {
  const chosen = (name) => form.querySelector(`[name=${name}]:checked`)?.value;
  const amount = form.elements.amount;

  const show = () => {
    const chains = ["pair", "first", "second"].map((name) => form.elements[name]?.selectedOptions[0]);
    const controls = chains.flatMap((option) => (option?.dataset.controls ?? "").split(" "));
    for (const dial of form.querySelectorAll("[data-dial]")) dial.hidden = !controls.includes(dial.dataset.dial) && !controls.includes("*");
    const dials = document.getElementById("dials");
    if (dials) dials.hidden = ![...dials.querySelectorAll("[data-dial]")].some((d) => !d.hidden);
    const card = form.querySelector("[data-card]");
    if (card) card.hidden = chosen("method") === "clap";
    const howMuch = form.querySelector("[data-how-much]");
    if (howMuch) howMuch.hidden = chosen("heard") === "in-sync";
  };

  // Half a frame is as fine as an eye counts; a millisecond as fine as a person types.
  const step = (way) => {
    const by = chosen("unit") === "ms" ? 1 : 0.5;
    const now = Number(amount.value.trim().replace(",", ".")) || 0;
    amount.value = String(Math.max(0, Math.round((now + way * by) / by) * by));
  };

  for (const button of form.querySelectorAll("[data-step]")) {
    button.hidden = false;
    button.addEventListener("click", () => step(Number(button.dataset.step)));
  }
  form.addEventListener("change", show);
  show();
}
