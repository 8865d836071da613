// Follows the analysis of a recording on its page, and shows the result when it
// is there. The service tells by events; where those do not come through, the
// page asks.

const at = document.getElementById("clip-running");
const { clip } = at.dataset;
const bar = at.querySelector("progress");
const left = at.querySelector("[data-left]");
const running = ["queued", "analysing"];
const pause = 2000; // ms between questions
const silence = 40_000; // ms without a sign after which the page asks

function show(now) {
  if (!running.includes(now.state)) {
    location.reload();
    return false;
  }
  if (now.state === "analysing") bar.value = now.progress;
  left.textContent = words(now);
  return true;
}

function words({ state, progress, estimate_s: all }) {
  if (state === "queued") return "It waits for its turn.";
  if (all === null) return "It has begun.";
  const seconds = Math.ceil(all * (1 - progress));
  if (seconds < 10) return "A few seconds more.";
  return seconds < 90 ? `About ${Math.ceil(seconds / 10) * 10} seconds more.` : `About ${Math.round(seconds / 60)} minutes more.`;
}

let timer;
const events = new EventSource(`/v1/clips/${clip}/events`);
const heard = () => {
  clearTimeout(timer);
  timer = setTimeout(askInstead, silence);
};
events.addEventListener("clip", (event) => {
  heard();
  if (!show(JSON.parse(event.data))) events.close();
});
let broken = 0;
events.onerror = () => { if (++broken > 2 || events.readyState === EventSource.CLOSED) askInstead(); };
heard();

async function askInstead() {
  events.close();
  clearTimeout(timer);
  const response = await fetch(`/v1/clips/${clip}`, { headers: { Accept: "application/json" }, cache: "no-store" }).catch(() => null);
  if (response?.status === 401 || response?.status === 404) return location.reload();
  if (response?.ok && !show(await response.json())) return undefined;
  if (!response) left.textContent = "No network: the analysis goes on without this phone.";
  timer = setTimeout(askInstead, pause);
  return undefined;
}
