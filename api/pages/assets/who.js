// Who uses this phone. What one person measured is never sent in the name of
// another, and what the service showed one session is not shown to the next.
//
// A person is { session, name, crew, crewName, ended }. ended: the session is
// over, though nobody signed out; what waits stays.

import { changed, forget, get, put } from "./memory.js";

// known returns who was signed in when the phone last knew, undefined for nobody.
export const known = () => get("facts", "who");

// same reports whether two are one person, in whatever session.
export const same = (a, b) => !!a && !!b && a.name === b.name && a.crew === b.crew;

async function note(person) {
  await put("facts", { ...person, key: "who" });
  changed();
}

// readPage notes whom the service made this page for. The pages that the phone
// keeps for everybody say nothing.
export async function readPage() {
  const said = document.querySelector("meta[name=session]");
  if (!said) return;
  const { name, crew, crewName } = said.dataset;
  if (said.content) return note({ session: said.content, name, crew, crewName, ended: false });
  const before = await known();
  if (before && !before.ended) await note({ ...before, ended: true });
}

// signedOut forgets who it was: the person asked for it.
export async function signedOut() {
  await forget("facts", "who");
  changed();
}

// here asks the service who is signed in, over the network. It returns nobody as
// null, and throws without an answer.
export async function here() {
  const response = await fetch("/session", { headers: { Accept: "application/json" }, cache: "no-store", signal: AbortSignal.timeout(20_000) });
  if (response.status === 401) {
    const before = await known();
    if (before && !before.ended) await note({ ...before, ended: true });
    return null;
  }
  if (!response.ok) throw new Error(`the service answered ${response.status}`);
  const said = await response.json();
  const person = { session: said.session, name: said.name, crew: said.crew, crewName: said.crew_name, ended: false };
  await note(person);
  return person;
}
