// What makes the plain forms quicker. Every page works without it.
"use strict";

// A second tap while the first is under way sends nothing.
document.addEventListener("submit", (event) => {
  if (event.defaultPrevented) return; // another script takes care of it
  const form = event.target;
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  form.dataset.sent = "yes";
  for (const button of form.querySelectorAll("button")) button.setAttribute("aria-disabled", "true");
});

// Coming back to a page with the back button, its forms can be sent again.
addEventListener("pageshow", () => {
  for (const form of document.forms) {
    delete form.dataset.sent;
    for (const button of form.querySelectorAll("button")) button.removeAttribute("aria-disabled");
  }
});

// What went wrong is read out and in view.
document.querySelector(".alert[role=alert]")?.focus();

const print = document.querySelector("[data-print]");
if (print) {
  print.hidden = false;
  print.addEventListener("click", () => window.print());
}

// Instants in the time of the phone.
const local = new Intl.DateTimeFormat("en-GB", { dateStyle: "long", timeStyle: "short" });
for (const time of document.querySelectorAll("time[datetime]")) time.textContent = local.format(new Date(time.dateTime));
