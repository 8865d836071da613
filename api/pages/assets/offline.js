// Runs on every page: keeps the phone ready for no network, sends what waits, and
// says how much that is. The pages work without it, with a network.

import { onChange } from "./memory.js";
import * as queue from "./queue.js";
import { sendInTime } from "./sending.js";
import { here, known, readPage, same, signedOut } from "./who.js";

// A page that was kept tells nothing new of who is signed in.
const asOf = !!document.querySelector("#as-of:not([hidden])");
if (!asOf) await readPage();

const parts = {
  "form[data-queue]": () => import("./forms.js"),
  "#waiting": () => import("./waiting.js"),
  "#clip-running": () => import("./clip.js"),
  "#kept-pages": () => import("./kept.js"),
};
for (const [where, load] of Object.entries(parts)) {
  if (document.querySelector(where)) load();
}

// The number beside the link to what waits.
async function tell() {
  const link = document.getElementById("waiting-link");
  const open = await queue.open();
  if (!link) return;
  link.hidden = open.length === 0;
  link.textContent = `Waiting (${open.length})`;
  link.classList.toggle("refused", open.some((item) => item.state === queue.refused));
}
onChange(tell);
await tell();

// Signing out says what waits, and loses nothing of it.
for (const form of document.querySelectorAll('form[action="/sign-out"]')) {
  form.addEventListener("submit", async (event) => {
    if (form.dataset.sure) return;
    event.preventDefault();
    const { ask, count } = await import("./dom.js");
    const person = await here().catch(() => undefined);
    if (person === undefined) {
      await ask("There is no network", "Signing out needs one: the service has to know. Nothing was changed.", [["stay", "Go back"]]);
      return;
    }
    const mine = (await queue.open()).filter((item) => same(item.by, person));
    if (mine.length > 0) {
      const answer = await ask(`${count(mine.length, "thing")} not sent yet`,
        `What you filled in waits on this phone to be sent. It stays here when you sign out, and is sent when you are back as ${person.name}.`,
        [["stay", "Stay signed in"], ["out", "Sign out, keep it here"]]);
      if (answer !== "out") return;
    }
    await signedOut();
    form.dataset.sure = "yes";
    form.requestSubmit();
  });
}

// lives resolves with whether a worker came to be installed.
const lives = (worker) => new Promise((resolve) => {
  const look = () => { if (worker.state !== "installing") resolve(worker.state !== "redundant"); };
  worker.addEventListener("statechange", look);
  look();
});

// install puts the service worker in place. On a bad network that may take more
// than one attempt: all that it keeps has to come.
async function install() {
  const longest = 60_000;
  for (let pause = 1000; pause < longest; pause *= 2) {
    const registration = await navigator.serviceWorker.register("/sw.js", { type: "module" }).catch(() => undefined);
    const worker = registration?.active ?? registration?.waiting ?? registration?.installing;
    if (worker && await lives(worker)) return navigator.serviceWorker.ready;
    await new Promise((wake) => { setTimeout(wake, pause); });
  }
  return undefined;
}

if ("serviceWorker" in navigator) {
  const links = [...document.querySelectorAll("a[data-keep]")].map((a) => a.pathname + a.search);
  install().then((registration) => {
    // The first page came before the worker was there to keep it.
    const here = asOf || !document.querySelector("meta[name=session]")?.content ? [] : [location.pathname + location.search];
    registration?.active?.postMessage({ keep: [...here, ...links] });
  });
}

addEventListener("online", () => sendInTime());
document.addEventListener("visibilitychange", () => { if (!document.hidden) sendInTime(); });
await queue.tidy(Date.now());
await sendInTime();
