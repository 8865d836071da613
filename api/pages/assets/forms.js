// Sends forms through the queue, so that nothing hangs on the network being
// there: form[data-queue=measurement] and form[data-queue=clip].
//
//   data-rig, data-rig-name   whose rig it is
//
// With ?item=N the form mends what waits or was refused.

import { onChange } from "./memory.js";
import * as queue from "./queue.js";
import { sendInTime } from "./sending.js";
import { known, same } from "./who.js";
import { Draft } from "./drafts.js";
import { entries, fill, now, faults } from "./filling.js";
import { ask, count, element, moment, size } from "./dom.js";

const patience = 8000; // ms that a person waits for the answer before it is called kept

for (const form of document.querySelectorAll("form[data-queue]")) bind(form);

async function bind(form) {
  const person = await known();
  if (!person) return; // the plain form works
  const says = element("div", { "aria-live": "polite", tabIndex: -1 });
  form.before(says);
  // A page that was kept is shown again and again: each time it is another form.
  if (document.querySelector("#as-of:not([hidden])")) renew(form);
  await sayRoom();
  const state = { form, person, says, draft: new Draft(form, person), id: await mended(form, person, says) };
  if (!state.id && !(await offerDraft(state))) await goneBack(state);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (state.busy) return; // a second tap while the first is under way
    busy(state, true);
    take(state).then((follows) => { if (!follows) busy(state, false); }, (error) => {
      busy(state, false);
      tell(says, "It could not be kept on this phone", [`${error.message}. What you typed is still here: try again, or free some room.`]);
    });
  });
}

function busy(state, is) {
  state.busy = is;
  for (const button of state.form.querySelectorAll("button:not([type=button])")) button.setAttribute("aria-disabled", String(is));
}

// mended fills in the item that the address names and returns its id.
async function mended(form, person, says) {
  const id = Number.parseInt(new URLSearchParams(location.search).get("item") ?? "", 10);
  const item = (await queue.open()).find((i) => i.id === id && i.kind === form.dataset.queue && same(i.by, person));
  if (!item) return undefined;
  fill(form, item.fields);
  if (item.problem) refuse(says, item.problem);
  return item.id;
}

// sayRoom says how large a recording may be to wait here for a network.
async function sayRoom() {
  const at = document.getElementById("room");
  const { quota, usage } = (at && await navigator.storage?.estimate?.()) ?? {};
  if (!quota) return;
  at.hidden = false;
  at.textContent = `Without a network it waits on this phone, if it is no larger than ${size(queue.roomFor(quota, usage))}.`;
}

// goneBack shows whoever goes back to the form what was sent from it, as the
// same form, so that sending it again counts for nothing.
async function goneBack({ form, person }) {
  if (performance.getEntriesByType("navigation")[0]?.type !== "back_forward") return;
  const last = (await queue.items()).findLast((i) => i.state === queue.sent && i.page === location.pathname && same(i.by, person));
  if (!last) return;
  fill(form, last.fields);
  form.elements.client_id.value = last.clientID;
}

async function offerDraft({ form, says, draft }) {
  const at = await draft.restore();
  if (at === undefined) return false;
  const anew = element("button", { type: "button", className: "quiet" }, "Begin anew");
  anew.onclick = async () => {
    await draft.drop();
    form.reset();
    form.dispatchEvent(new Event("change"));
    says.replaceChildren();
  };
  tell(says, `What you typed at ${moment(at)} is back`, [], anew);
  return true;
}

function tell(says, title, lines, ...more) {
  says.replaceChildren(element("div", { className: "card" }, element("p", null, element("strong", null, `${title}.`)),
    ...lines.map((line) => element("p", null, line)), ...more));
}

function refuse(says, problem) {
  const lines = faults(problem).map(({ field, text }) => element("li", null, document.getElementById(field) ? element("a", { href: `#${field}` }, text) : text));
  says.replaceChildren(element("div", { className: "card alert" }, element("p", null, element("b", null, "Not stored yet:"), ` ${problem.detail}`),
    element("ul", null, ...lines)));
  says.focus();
}

// words say what a form says, as a person would.
function words(form) {
  const { pair, first, second, heard, amount, unit } = form.elements;
  const said = first ? `${first.value} against ${second.value}` : pair?.selectedOptions[0]?.textContent ?? "";
  if (!heard?.value) return said;
  if (heard.value === "in-sync") return `${said}: in sync`;
  const one = amount.value.trim() === "1" && unit.value === "frames";
  return `${said}: sound ${heard.value} ${amount.value.trim()} ${one ? "frame" : unit.value}`;
}

// renew makes the form one for another item.
function renew(form) {
  form.elements.client_id.value = crypto.randomUUID();
  form.elements.taken_at.value = "";
}

// sentBefore finds what was stored from this form before somebody came back to
// it, and asks what is meant. It returns whether to go on.
async function sentBefore(state) {
  const { form } = state;
  const before = (await queue.items()).find((item) => item.clientID === form.elements.client_id.value);
  if (!before) return true;
  if (before.state !== queue.sent) {
    state.id = before.id;
    return true;
  }
  if (queue.said(before.fields) !== queue.said(entries(form))) {
    const answer = await ask("Stored before", `From this form ${before.words} was stored. To put that right, look at it and strike it.`,
      [["see", "Look at it"], ["another", "Store this as another one"]]);
    if (answer === "another") {
      renew(form);
      form.elements.taken_at.value = now();
      return true;
    }
    if (answer !== "see") return false;
  }
  location.assign(before.answer);
  return false;
}

// take puts what the form says into the queue, and waits for the answer as long
// as a person would. It returns whether something is under way.
async function take(state) {
  const { form, person, draft, says } = state;
  const files = [...form.querySelectorAll("input[type=file]")].flatMap((input) => [...input.files]);
  const takenAt = form.elements.taken_at;
  takenAt.value ||= now();
  if (!state.id && !(await sentBefore(state))) return false;
  if (state.id) {
    const item = await queue.mend(state.id, { fields: entries(form), words: words(form), is: files.length > 0 && about(files) });
    if (!item) {
      tell(says, "It is on its way already", ["Look at what waits to see what becomes of it."], toWaiting());
      return false;
    }
  } else {
    if (form.dataset.queue === "clip" && files.length === 0) {
      refuse(says, { detail: "", fields: [{ pointer: "/file", detail: "Pick a recording, or film one." }] });
      return false;
    }
    state.id = await queue.add({
      kind: form.dataset.queue, clientID: form.elements.client_id.value, rig: form.dataset.rig, rigName: form.dataset.rigName,
      where: new URL(form.action).pathname, page: location.pathname, fields: entries(form), words: words(form), by: person, ...about(files),
    });
  }
  if (files.length > 0) await handOver(state.id, files);
  await draft.drop();
  follow(state);
  return true;
}

// handOver keeps a recording with its item if the phone has room for it. Else it
// can be sent from this page alone.
async function handOver(id, files) {
  const file = files.length > 1 ? files : files[0];
  queue.inHand.set(id, file);
  const { quota = 0, usage = 0 } = (await navigator.storage?.estimate?.()) ?? {};
  const is = about(files);
  await queue.update(id, is.fileSize <= queue.roomFor(quota, usage) ? { ...is, file } : is).catch(() => queue.update(id, is));
}

// about says what files there are, two as one.
const about = (files) => ({ fileName: files.map((file) => file.name).join(" and ") || undefined, fileSize: files.reduce((sum, file) => sum + file.size, 0) });

// follow says what becomes of an item while the person looks on, and shows the
// answer of the service when it comes.
async function follow(state) {
  const { id, says, form } = state;
  const typed = queue.said(entries(form));
  const late = Date.now() + patience;
  let free = false; // the form, for the next measurement
  let over = false;
  const stop = onChange(() => look(false));
  async function look(tried) {
    const item = (await queue.items()).find((i) => i.id === id);
    if (over) return;
    over = !item || item.state === queue.sent || item.state === queue.refused;
    if (over) stop();
    if (over && !free) busy(state, false);
    if (item?.state === queue.sent) {
      if (!free) location.assign(item.answer);
      else tell(says, `${item.words} is in the book`, [], element("p", null, element("a", { href: item.answer }, "What follows from it")));
    } else if (item?.state === queue.refused) {
      if (!free) refuse(says, item.problem);
      else tell(says, `${item.words} was not taken`, [item.problem.detail], toWaiting());
    } else if (item?.kind === "clip" && item.state === queue.sending) showProgress(says, item);
    else if (item && (tried || item.tries > 0 || Date.now() > late)) {
      await sayKept(says, item);
      if (free) return;
      says.focus();
      busy(state, false);
      if (item.kind !== "measurement") return;
      free = true;
      state.id = undefined;
      if (queue.said(entries(form)) === typed) form.reset(); // else somebody types the next one already
      renew(form);
      form.dispatchEvent(new Event("change"));
    }
  }
  setTimeout(look, patience + 100, false);
  await sendInTime();
  await look(true);
}

async function sayKept(says, item) {
  const person = await known();
  const why = person?.ended ? "Your session is over: join again with the link or code of your crew, and it is sent." : "It is sent as soon as there is a network. You can close this page.";
  const alone = item.kind === "clip" && !item.file ? ["The recording is too large to be kept: leave this page open, or pick it again later. What has arrived is not sent twice."] : [];
  const open = await queue.open();
  tell(says, "Kept on this phone", [why, ...alone, `${count(open.length, "thing waits", "things wait")}.`], toWaiting());
}

const toWaiting = () => element("p", null, element("a", { href: "/waiting" }, "What waits"));

function showProgress(says, item) {
  const bar = says.querySelector("progress");
  const text = `${size(item.sent ?? 0)} of ${size(item.fileSize)} arrived`;
  if (bar) {
    bar.value = item.sent ?? 0;
    bar.nextSibling.textContent = text;
    return;
  }
  const made = element("progress", { max: item.fileSize, value: item.sent ?? 0, "aria-label": "How much of the recording has arrived" });
  tell(says, "Sending the recording", [], element("p", null, made, text));
}
