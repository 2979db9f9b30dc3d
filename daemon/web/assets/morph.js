// Changes a tree to what some HTML says and leaves alone what is the same, so that focus, what was typed and what
// was opened stay.
export function morph(node, html) {
  const template = document.createElement("template");
  template.innerHTML = html;
  children(node, template.content);
}

function key(node) {
  return node.nodeType === Node.ELEMENT_NODE ? node.getAttribute("data-key") : null;
}

function alike(a, b) {
  return a.nodeType === b.nodeType && a.nodeName === b.nodeName && key(a) === key(b);
}

function children(now, want) {
  const keyed = new Map();
  for (const child of now.childNodes) if (key(child) !== null) keyed.set(key(child), child);
  let at = now.firstChild;
  for (const child of [...want.childNodes]) {
    const known = key(child) === null ? null : keyed.get(key(child));
    keyed.delete(key(child));
    if (known && known !== at && alike(known, child)) {
      now.insertBefore(known, at);
      one(known, child);
    } else if (at && alike(at, child)) {
      one(at, child);
      at = at.nextSibling;
    } else {
      now.insertBefore(child, at);
    }
  }
  while (at) {
    const next = at.nextSibling;
    at.remove();
    at = next;
  }
}

function one(now, want) {
  if (now.nodeType !== Node.ELEMENT_NODE) {
    if (now.nodeValue !== want.nodeValue) now.nodeValue = want.nodeValue;
    return;
  }
  for (const { name, value } of [...want.attributes]) {
    if (now.getAttribute(name) !== value) now.setAttribute(name, value);
  }
  for (const { name } of [...now.attributes]) {
    const opened = name === "open" && now.nodeName === "DETAILS";
    if (!opened && !want.hasAttribute(name)) now.removeAttribute(name);
  }
  children(now, want);
}
