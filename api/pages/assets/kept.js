// Lists the pages that can be read without a network, on the page that stands in
// for one that can not.

const at = document.getElementById("kept-pages");
const name = (await caches.keys()).find((n) => n.startsWith("pages "));
const cache = name && await caches.open(name);
const list = document.createElement("ul");
for (const request of (await cache?.keys()) ?? []) {
  const response = await cache.match(request);
  const title = new DOMParser().parseFromString(await response.text(), "text/html").title.replace(/ · delaybook$/, "");
  const link = document.createElement("a");
  link.href = request.url;
  link.textContent = title;
  const item = document.createElement("li");
  item.append(link);
  list.prepend(item);
}
at.replaceChildren(list.children.length > 0 ? list : "None yet: a page is kept when it is opened with a network.");
