// Steps through a recording without loading the whole page for each frame: the
// service makes the page of the next frame, and its parts are put in place when
// its image is here. Without this script the same links do the same.

// What is within these changes from frame to frame; they stay themselves, so that a screen reader says what is new in them.
const parts = [".moves", ".falls", ".meets", ".read", "nav[aria-labelledby=which]", "[data-reads]"];
const keys = { ArrowLeft: "back", ArrowRight: "on" };
let latest = 0; // of the moves that were begun

const made = new Map(); // pages that were fetched ahead, by address

function page(address) {
  if (!made.has(address)) {
    const text = fetch(address, { headers: { Accept: "text/html" } }).then((response) => {
      if (!response.ok || response.redirected) throw new Error(`status ${response.status}`);
      return response.text();
    });
    text.catch(() => made.delete(address));
    made.set(address, text);
  }
  return made.get(address);
}

async function go(address, key) {
  const mine = ++latest;
  const shown = document.getElementById("step");
  shown.setAttribute("aria-busy", "true");
  try {
    const next = new DOMParser().parseFromString(await page(address), "text/html");
    const image = new Image();
    image.src = next.querySelector(".still").getAttribute("src");
    await image.decode();
    if (mine !== latest) return;
    put(next, key);
    history.replaceState(null, "", address);
    ahead();
  } catch {
    if (mine === latest) location.assign(address); // the page of the service says what is wrong
  }
}

// put replaces the parts of this page by those of another, and leaves the focus
// on the button that was pressed.
function put(next, key) {
  for (const part of parts) {
    const from = next.querySelector(part);
    const to = document.querySelector(part);
    if (from && to) to.replaceChildren(...from.childNodes);
  }
  for (const name of ["src", "alt"]) document.querySelector(".still").setAttribute(name, next.querySelector(".still").getAttribute(name));
  const step = document.getElementById("step");
  step.dataset.ahead = next.getElementById("step").dataset.ahead;
  step.removeAttribute("aria-busy");
  const store = document.getElementById("store");
  if (store) {
    store.hidden = next.getElementById("store")?.hidden ?? true;
    for (const name of ["sound", "at"]) store.elements[name].value = next.querySelector(`#store [name=${name}]`).value;
  }
  const button = document.querySelector(`a[data-move="${key}"]`) ?? document.querySelector("a[data-move]");
  if (key) button?.focus({ preventScroll: true });
}

// ahead fetches the frames that are likely to be asked for next.
function ahead() {
  for (const image of document.getElementById("step").dataset.ahead.split(" ").filter(Boolean)) new Image().src = image;
  for (const key of ["back", "on"]) {
    const link = document.querySelector(`a[data-move="${key}"]`);
    if (link) page(link.href).catch(() => {});
  }
}

document.addEventListener("click", (event) => {
  const link = event.target.closest("#step a, nav[aria-labelledby=which] a");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  go(link.href, link.dataset.move ?? "");
});

document.addEventListener("keydown", (event) => {
  const key = keys[event.key];
  if (!key || event.altKey || event.ctrlKey || event.metaKey || event.target.closest("input, select, textarea")) return;
  const link = document.querySelector(`a[data-move="${event.shiftKey ? `${key}-5` : key}"]`);
  event.preventDefault();
  if (link) go(link.href, link.dataset.move);
});

ahead();
