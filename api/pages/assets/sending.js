// Sends what waits: each item once, in order, as soon as there is a network.
//
// Pages call send when they open, when something is added, when the browser says
// that it is online, and from time to time; the service worker when the browser
// wakes it for Background Sync. A lock of the browser lets one of them send at a
// time. Should an answer get lost, the item is sent again under the same
// identifier, and the service counts it once.

import * as queue from "./queue.js";
import * as tus from "./tus.js";
import { known, here, same } from "./who.js";

const kinds = ["measurement", "clip"]; // each on its own: a recording takes minutes
const firstPause = 4000; // ms; each one after it twice as long
const longestPause = 300_000;

// send sends all that can be sent now.
export async function send() {
  const open = await queue.open();
  await Promise.all(kinds.filter((kind) => open.some((item) => item.kind === kind)).map((kind) => alone(kind, () => drain(kind))));
}

// A browser without locks may send twice at once, which the service notices.
const alone = (kind, work) => (navigator.locks ? navigator.locks.request(`delaybook ${kind}`, work) : work());

async function drain(kind) {
  await queue.recover(kind);
  const person = await here().catch(() => undefined);
  if (!person) return; // no network, or nobody is signed in: all waits
  for (;;) {
    const item = await queue.due(kind, person, Date.now());
    if (!item) return;
    await queue.update(item.id, { state: queue.sending });
    const goOn = await post[kind](item).catch((error) => inVain(item, error));
    if (!goOn) return;
  }
}

// inVain keeps an item that did not get through. Without any answer the network
// is gone, and nothing else is tried.
async function inVain(item, error) {
  const answered = error instanceof tus.UploadError;
  if (answered && !error.again) return settle(item, error.response);
  await later(item, 0);
  return answered;
}

async function later(item, seconds) {
  const pause = Math.min(longestPause, firstPause * 2 ** Math.min(item.tries, 10)) * (0.75 + Math.random() / 2);
  await queue.update(item.id, { state: queue.waiting, tries: item.tries + 1, notBefore: Date.now() + Math.max(seconds * 1000, pause) });
}

// What may be different the next time: the service was busy, or the upload is
// still held by the connection that broke.
const passing = (status) => [408, 423, 425, 429].includes(status) || status >= 500 && status !== 501;

// settle does what the answer asks for. It returns whether to go on with the next item.
async function settle(item, response) {
  if (response.status === 401) {
    await queue.update(item.id, { state: queue.waiting });
    await here().catch(() => {}); // notes that the session is over
    return false;
  }
  if (passing(response.status)) {
    await later(item, Number.parseInt(response.headers.get("Retry-After") ?? "0", 10) || 0);
    return true;
  }
  await queue.update(item.id, { state: queue.refused, problem: await problem(response) });
  return true;
}

// problem reads why something was refused (RFC 9457).
async function problem(response) {
  const type = response.headers.get("Content-Type") ?? "";
  const said = type.includes("json") ? await response.json().catch(() => ({})) : {};
  return {
    title: said.title ?? "The service did not take it",
    detail: said.detail ?? `It answered with status ${response.status} and no reason. Try again later, or tell who runs the service.`,
    fields: said.fields ?? [],
  };
}

const arrived = (item, answer) =>
  queue.update(item.id, { state: queue.sent, sentAt: Date.now(), answer, file: undefined, upload: undefined }).then(() => true);

const post = { measurement: postMeasurement, clip: postClip };

async function postMeasurement(item) {
  const response = await fetch(item.where, {
    method: "POST", body: new URLSearchParams([...item.fields, ["client_id", item.clientID]]),
    headers: { Accept: "application/json" }, signal: AbortSignal.timeout(60_000),
  });
  if (!response.ok) return settle(item, response);
  return arrived(item, new URL(response.url).pathname);
}

async function postClip(item) {
  const [file, second] = [item.file ?? queue.inHand.get(item.id)].flat();
  let { clip } = item;
  if (!clip) {
    const last = await sendFile(item, file, "upload", 0, async () => {
      // The service reads the form, so that one place knows what it means.
      const response = await fetch(`${item.where}/said`, {
        method: "POST", body: new URLSearchParams(item.fields), headers: { Accept: "application/json" }, signal: AbortSignal.timeout(60_000),
      });
      if (!response.ok) throw new tus.UploadError(response);
      return { ...(await response.json()), client_id: item.clientID, ...(second ? { files: "2" } : {}) };
    });
    clip = last.headers.get("Clip-Location");
    if (second) await queue.update(item.id, { clip });
  }
  if (second && !(await isWhole(clip))) await sendFile(item, second, "upload2", file.size, () => ({ second_of: clip.split("/").at(-1) }));
  return arrived(item, clip ? clip.replace("/v1/clips/", "/clips/") : item.where);
}

// sendFile sends one file, from where its upload, whose address the item keeps
// under a name, was broken off. It returns the answer to the last piece.
async function sendFile(item, file, name, before, metadata) {
  let address = item[name];
  let there = address ? await tus.offset(address) : null;
  if (there === null) {
    address = await tus.create(`/v1/rigs/${encodeURIComponent(item.rig)}/clips`, file, { ...(await metadata()), filename: file.name ?? item.fileName });
    there = 0;
  }
  await queue.update(item.id, { [name]: address, sent: before + there });
  return tus.upload(address, file, there, (sent) => queue.update(item.id, { sent: before + sent }));
}

// isWhole reports whether both files of a clip arrived: the answer to the last
// piece of the second may have been lost.
async function isWhole(clip) {
  const response = await fetch(clip, { headers: { Accept: "application/json" }, cache: "no-store", signal: AbortSignal.timeout(60_000) });
  if (!response.ok) throw new tus.UploadError(response);
  return (await response.json()).files.length > 1;
}

let timer;
let vain = 0; // how often nothing could be sent

// sendInTime sends now, and again whenever something may be tried again. It is
// for pages: a service worker does not live that long.
export async function sendInTime() {
  vain = 0;
  await sendAgain();
}

async function sendAgain() {
  clearTimeout(timer);
  await send();
  if (!(await stuck())) return;
  const at = await queue.nextTry(await known());
  timer = setTimeout(sendAgain, Math.min(longestPause, Math.max(at - Date.now(), firstPause * 2 ** Math.min(vain++, 10))));
}

// stuck reports whether something waits that only a network would move.
export async function stuck() {
  const person = await known();
  return !!person && !person.ended && (await queue.open()).some((i) => i.state !== queue.refused && same(i.by, person));
}
