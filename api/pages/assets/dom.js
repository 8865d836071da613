// Makes pieces of a page. Text is always text: nothing is read as HTML.

// element makes an element with properties (attributes where the name has a
// dash) and children, which are elements or texts; what is null is left out.
export function element(tag, properties, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(properties ?? {})) {
    if (name.includes("-")) made.setAttribute(name, value);
    else made[name] = value;
  }
  made.append(...children.filter((child) => child !== null && child !== undefined && child !== false));
  return made;
}

// button makes a button that does something on this page.
export const button = (words, className, onclick) => element("button", { type: "button", className, onclick }, words);

// moment says when something was, as people do: the time alone for today.
export function moment(at) {
  const time = { hour: "2-digit", minute: "2-digit" };
  const today = new Date(at).toDateString() === new Date().toDateString();
  return new Date(at).toLocaleString("en-GB", today ? time : { day: "numeric", month: "long", ...time });
}

// size says how large a file is.
export function size(bytes) {
  if (bytes < 1e6) return `${Math.ceil(bytes / 1e3)} kB`;
  return bytes < 1e9 ? `${(bytes / 1e6).toFixed(bytes < 1e7 ? 1 : 0)} MB` : `${(bytes / 1e9).toFixed(1)} GB`;
}

// ask puts a question before a person and resolves with the value of the button
// that was pressed, "" for none.
export function ask(title, text, answers) {
  const buttons = answers.map(([value, words], i) => element("button", { value, className: i ? "quiet" : "" }, words));
  const heading = element("h2", { id: "question" }, title);
  const dialog = element("dialog", { "aria-labelledby": "question" },
    element("form", { method: "dialog" }, heading, element("p", null, text), element("div", { className: "choices" }, ...buttons)));
  document.body.append(dialog);
  dialog.showModal();
  return new Promise((resolve) => {
    dialog.onclose = () => { dialog.remove(); resolve(dialog.returnValue); };
  });
}

// count says a number of things.
export const count = (n, one, more = `${one}s`) => `${n} ${n === 1 ? one : more}`;
