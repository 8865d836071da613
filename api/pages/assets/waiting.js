// The page of what waits: what it is, how it stands, and what to do about it.

import { onChange } from "./memory.js";
import * as queue from "./queue.js";
import { sendInTime } from "./sending.js";
import { known, same } from "./who.js";
import { faults } from "./filling.js";
import { ask, button, count, element, moment, size } from "./dom.js";

const at = document.getElementById("waiting");
const status = document.getElementById("waiting-status");

async function show() {
  const person = await known();
  const all = await queue.items();
  const mine = all.filter((item) => same(item.by, person));
  const open = mine.filter((item) => item.state !== queue.sent);
  put(status, standing(open, person));
  const held = new Set();
  const cards = [];
  for (const item of open) {
    cards.push(card(item, held.has(item.rig)));
    if (item.state === queue.refused && item.kind === "measurement") held.add(item.rig);
  }
  const done = mine.filter((item) => item.state === queue.sent).reverse();
  const heading = done.length > 0 ? [element("h2", null, "Sent in the last day")] : [];
  put(at, [...cards, ...others(all, person), ...heading, ...done.map(sentLine), await room()]);
}

// put shows elements in place of what is there, unless that is the same: a button
// must not go from under a finger, nor lose the focus.
function put(place, elements) {
  const next = element("div", null, ...elements);
  if (next.innerHTML !== place.innerHTML) place.replaceChildren(...next.childNodes);
}

// standing says whether anything stands in the way of what waits.
function standing(open, person) {
  if (!person || person.ended) {
    const who = person ? ` as ${person.name}` : "";
    return [element("p", null, element("strong", null, "You are not signed in. "), `Join again${who} with the link or code of your crew, then what waits is sent.`),
      element("p", null, element("a", { href: "/sign-in?next=/waiting", className: "button" }, "Sign in"))];
  }
  if (open.length === 0) return [element("p", null, "Nothing waits: all that you filled in on this phone was sent.")];
  const refused = open.filter((item) => item.state === queue.refused).length;
  const moving = open.length - refused;
  const now = moving > 0 && button("Send now", "", () => sendInTime());
  const how = navigator.onLine ? "sent as soon as the service answers" : "There is no network; sent when there is one";
  return [element("p", null,
    moving > 0 ? `${count(moving, "thing waits", "things wait")} to be sent (${how.toLowerCase()}). ` : null,
    refused > 0 ? element("strong", null, `${count(refused, "was", "were")} not taken: mend or drop.`) : null), now].filter(Boolean);
}

function card(item, held) {
  const title = item.kind === "clip" ? `Recording ${item.fileName}` : item.words || "Measurement";
  return element("article", { id: `item-${item.id}`, className: `card item ${item.state}` },
    element("h2", null, title),
    element("p", { className: "hint" }, `${item.rigName}, ${moment(item.at)}${item.kind === "clip" && item.words ? `, ${item.words}` : ""}`),
    ...stands(item, held), element("div", { className: "choices" }, ...choices(item)));
}

// stands says in words how an item stands.
function stands(item, held) {
  const lines = [];
  const say = (text, strong) => lines.push(element("p", null, strong ? element("strong", null, text) : text));
  if (item.state === queue.refused) {
    say("Not taken.", true);
    say(item.problem.detail);
    for (const { text } of faults(item.problem)) say(text);
  } else if (item.kind === "clip") {
    const sent = item.sent ?? 0;
    lines.push(element("p", null, element("progress", { max: item.fileSize, value: sent, "aria-label": `How much of ${item.fileName} has arrived` }),
      `${size(sent)} of ${size(item.fileSize)} arrived${item.state === queue.sending ? ", being sent" : ""}`));
    if (!item.file && !queue.inHand.has(item.id)) say("It is too large to be kept here, and is sent only from the page where it was picked. If that is closed, pick it again: what has arrived is not sent twice.");
  } else if (held) say("Waits for the one before it, which was not taken: it may say “as before”.");
  else if (item.state === queue.sending) say("Being sent.");
  else if (item.tries > 0) say(`Waits; tried ${count(item.tries, "time")} in vain, next at ${moment(Math.max(item.notBefore, Date.now()))}.`);
  else say("Waits.");
  return lines;
}

function choices(item) {
  if (item.state === queue.sending && item.kind === "measurement") return [];
  const mend = element("a", { className: "button quiet", href: `${item.page}?item=${item.id}` },
    item.state === queue.refused ? "Mend it" : item.kind === "clip" ? "Pick it again" : "Change it");
  const again = item.state === queue.refused && button("Send it as it is", "quiet", async () => { await queue.again(item.id); sendInTime(); });
  const drop = button("Drop it", "quiet", async () => {
    const answer = await ask("Drop it?", "It is not in the book and will not be.", [["keep", "Keep it"], ["drop", "Drop it"]]);
    if (answer !== "drop") return;
    await queue.drop(item.id);
    sendInTime();
  });
  const needsFile = item.kind === "clip" && !item.file;
  return [item.kind === "clip" && item.state !== queue.refused && !needsFile ? null : mend, again, drop].filter(Boolean);
}

// others says what other people left on this phone, without saying what it is.
function others(all, person) {
  const left = new Map();
  for (const item of all) {
    if (item.state === queue.sent || same(item.by, person)) continue;
    const who = `${item.by.name} (${item.by.crewName || "no crew"})`;
    left.set(who, (left.get(who) ?? 0) + 1);
  }
  return [...left].map(([who, n]) => element("p", { className: "card" }, `${count(n, "thing")} of ${who} wait on this phone. Sent when ${who} joins here again.`));
}

const sentLine = (item) => element("p", null, `${item.rigName}: ${item.words || item.fileName}. `,
  element("a", { href: item.answer }, `In the book since ${moment(item.sentAt)}`));

// room says how large recordings may be that wait here.
async function room() {
  const { quota, usage } = (await navigator.storage?.estimate?.()) ?? {};
  if (!quota) return element("p", { className: "hint" }, "This browser does not say how much room it has for recordings.");
  return element("p", { className: "hint" }, `This phone has room for recordings of up to ${size(queue.roomFor(quota, usage))} to wait.`);
}

onChange(show);
addEventListener("online", show);
addEventListener("offline", show);
await show();
