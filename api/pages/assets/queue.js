// What waits on this phone to be sent.
//
// An item is a form as it was filled in, so that it can be sent, shown and filled
// in again:
//
//   id        its place in the order
//   kind      "measurement" or "clip"
//   clientID  UUID by which the service counts it once, however often it comes
//   rig, rigName, where   of the rig: slug with crew, name, path of the form
//   fields    [name, value] of every field of the form
//   words     what it says, for people
//   by        who filled it in, as in who.js
//   at        when, ms since 1970
//   state     see below
//   notBefore not to be tried again until then, ms since 1970
//   tries     how often it was tried in vain
//   problem   { title, detail, fields }: why it was refused
//   answer    where the service shows what came of it
//   file      of a clip: the recording, or a list of two; absent if it is too large to be kept here
//   fileName, fileSize   of a clip
//   upload    of a clip: the address at which the service takes the bytes
//   clip, upload2   of two files: what the first became, and where the second goes
//   sent      of a clip: how many bytes have arrived
//
// Items of one person for one rig go in order: one that is refused holds those
// behind it, because they may say "as in the one before". Recordings are large
// and bring their own time, so that they go in a line of their own.

import { all, change, changeAll, changed, forget, put } from "./memory.js";
import { same } from "./who.js";

export const waiting = "waiting"; // to be sent
export const sending = "sending"; // on its way, or was when the browser ended
export const refused = "refused"; // the service said no: to be mended or dropped
export const sent = "sent"; // in the book; shown for a day

const shownFor = 24 * 3600 * 1000;

// items returns all, in order.
export const items = () => all("items");

// open returns those that are not in the book yet.
export const open = async () => (await items()).filter((item) => item.state !== sent);

// add puts an item at the end and returns its id.
export async function add(item) {
  const id = await put("items", { state: waiting, tries: 0, notBefore: 0, clientID: crypto.randomUUID(), at: Date.now(), ...item });
  changed();
  askForRoom();
  wakeLater();
  return id;
}

// Where the browser has Background Sync it sends what waits though no page is open.
function wakeLater() {
  globalThis.navigator.serviceWorker?.ready.then((registration) => registration.sync?.register("send")).catch(() => {});
}

// The browser should not throw away what waits when the phone runs out of room.
function askForRoom() {
  globalThis.navigator.storage?.persist?.().catch(() => {});
}

// update changes an item and tells all pages.
export async function update(id, fields) {
  const item = await change("items", id, (old) => ({ ...old, ...fields }));
  changed();
  return item;
}

// mend puts what a person filled in anew in place of what was refused or waits,
// at its old place and under its old identifier: should it have arrived
// before, the service says so instead of counting it twice.
// An upload that was begun goes on if all of it is as it was.
export const mend = (id, { fields, words, is }) => change("items", id, (old) => {
  if (old.state !== refused && old.state !== waiting) return undefined;
  const kept = old.fields.filter(([name]) => name === "taken_at"); // it was measured when it was
  const goesOn = said(fields) === said(old.fields) && (!is || is.fileName === old.fileName && is.fileSize === old.fileSize);
  return {
    ...old, fields: [...fields.filter(([name]) => name !== "taken_at"), ...kept], words, state: waiting, problem: undefined,
    ...(goesOn ? {} : { upload: undefined, clip: undefined, upload2: undefined }), tries: 0, notBefore: 0,
  };
}).then((item) => { changed(); return item; });

// said is what fields say, to compare it: not when it was.
export const said = (fields) => JSON.stringify(fields.filter(([name]) => name !== "taken_at").sort());

// again lets a refused item be sent as it is.
export const again = (id) => update(id, { state: waiting, problem: undefined, tries: 0, notBefore: 0 });

// adopt makes an item that somebody else filled in one's own.
export const adopt = (id, by) => update(id, { by });

const lane = (item) => JSON.stringify([item.kind, item.kind === "clip" ? "" : item.rig, item.by?.crew, item.by?.name]);

// inHand are recordings that a person picked on this page, or lists of two, by id of their item.
// One that is too large to be kept can be sent from here alone.
export const inHand = new Map();

// roomFor is the largest recording that is kept on the phone, of what the browser
// gives in all and what of that is used, bytes. Half is left to what comes after.
export const roomFor = (quota, usage) => Math.max(0, Math.min(1e9, (quota - usage) / 2));

const sendable = (item) => item.kind !== "clip" || !!(item.file ?? inHand.get(item.id));

const field = (item, name) => item.fields.find(([n]) => n === name)?.[1] ?? "";

// drop removes an item on purpose. If it was the first after something was
// switched or changed, the next one of its line is that now.
export async function drop(id) {
  const before = await open();
  const dropped = before.find((item) => item.id === id);
  if (!dropped) return;
  const next = before.find((item) => item.id > id && lane(item) === lane(dropped));
  await forget("items", id);
  if (next && field(dropped, "changed") === "yes" && field(next, "changed") === "no") {
    await update(next.id, { fields: next.fields.map(([n, v]) => [n, n === "changed" ? "yes" : v]) });
  }
  changed();
}

// due returns the first item of a kind that may be sent now for a person. A
// recording that was refused holds no other.
export async function due(kind, person, now) {
  const held = new Set();
  for (const item of await open()) {
    if (item.kind !== kind || !same(item.by, person) || held.has(lane(item)) || !sendable(item)) continue;
    if (item.state !== refused && item.notBefore <= now) return item;
    if (kind !== "clip" || item.state !== refused) held.add(lane(item));
  }
  return undefined;
}

// nextTry returns when something of a person may be tried again, ms since 1970;
// Infinity if nothing waits for that.
export async function nextTry(person) {
  const times = (await open()).filter((i) => i.state !== refused && same(i.by, person) && sendable(i)).map((i) => i.notBefore);
  return Math.min(Infinity, ...times);
}

// recover takes back what was on its way when the browser ended. Only who holds
// the lock of the kind may call it.
export const recover = (kind) => changeAll("items", (item) =>
  item.kind === kind && item.state === sending ? { ...item, state: waiting } : undefined);

// tidy forgets what was sent long ago.
export const tidy = (now) => changeAll("items", (item) =>
  item.state === sent && item.sentAt < now - shownFor ? null : undefined);
