// Reads forms and fills them in again.

// entries returns what a form would send, without files and without its
// identifier, which an item has apart.
export const entries = (form) => [...new FormData(form)].filter(([name, value]) => typeof value === "string" && name !== "client_id");

// fill puts what a person typed into a form. What the page itself says, in hidden fields, stays: it
// may be newer.
export function fill(form, typed) {
  const values = new Map();
  for (const [name, value] of typed) values.set(name, [...(values.get(name) ?? []), value]);
  for (const field of form.elements) {
    const given = values.get(field.name);
    if (!field.name || field.type === "file" || field.type === "submit" || field.type === "hidden") continue;
    if (field.type === "radio" || field.type === "checkbox") field.checked = !!given?.includes(field.value);
    else if (given?.length) field.value = given.shift();
    else continue;
    field.dispatchEvent(new Event("change", { bubbles: true }));
  }
}

// faults says each fault of a problem, with what to do about it, and the field of
// the form that it is about.
export const faults = (problem) => problem.fields.map(({ pointer, detail, send }) => ({
  field: pointer.split("/")[1] ?? "", text: send ? `${detail}. Send ${send}.` : detail,
}));

// now is the time as people and the service read it, with the offset of the phone's clock.
export function now() {
  const at = new Date();
  const ahead = -at.getTimezoneOffset();
  const two = (n) => String(Math.trunc(Math.abs(n))).padStart(2, "0");
  const local = new Date(at.getTime() + ahead * 60_000).toISOString().slice(0, -5);
  return `${local}${ahead < 0 ? "-" : "+"}${two(ahead / 60)}:${two(ahead % 60)}`;
}
