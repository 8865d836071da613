// Keeps what is typed into a form while it is typed, so that a reload, a crash or
// an empty battery loses nothing. A draft belongs to who typed it and to the page.

import { forget, get, put } from "./memory.js";
import { entries, fill } from "./filling.js";

const keyOf = (form, person) => JSON.stringify(["draft", location.pathname, form.id, person?.crew ?? "", person?.name ?? ""]);

// A draft follows one form.
export class Draft {
  #form; #key; #blank; #busy = false; #again = false;

  constructor(form, person) {
    this.#form = form;
    this.#key = keyOf(form, person);
    this.#blank = JSON.stringify(entries(form));
    form.addEventListener("input", () => this.save());
    form.addEventListener("change", () => this.save());
  }

  // restore fills in what was typed and not sent, and returns when it was typed;
  // undefined if there is nothing.
  async restore() {
    const kept = await get("drafts", this.#key);
    if (!kept || JSON.stringify(kept.fields) === this.#blank) return undefined;
    fill(this.#form, kept.fields);
    return kept.at;
  }

  // save keeps what is in the form now. While one is being written, the next
  // waits, and only the newest of those.
  async save() {
    if (this.#busy) {
      this.#again = true;
      return;
    }
    this.#busy = true;
    do {
      this.#again = false;
      await put("drafts", { key: this.#key, fields: entries(this.#form), at: Date.now() }).catch(() => {});
    } while (this.#again);
    this.#busy = false;
  }

  // drop forgets it: it was sent, or is to be begun anew.
  async drop() {
    this.#again = false;
    await forget("drafts", this.#key);
  }
}
