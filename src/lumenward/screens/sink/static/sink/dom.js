// Building elements without any markup in strings.

const SVG = "http://www.w3.org/2000/svg";

function fill(element, attributes, children) {
  for (const [name, value] of Object.entries(attributes ?? {})) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else element.setAttribute(name, value === true ? "" : value);
  }
  element.append(
    ...children
      .flat(Infinity)
      .filter((child) => child !== null && child !== undefined && child !== false && child !== ""),
  );
  return element;
}

export const h = (tag, attributes, ...children) => fill(document.createElement(tag), attributes, children);
export const s = (tag, attributes, ...children) => fill(document.createElementNS(SVG, tag), attributes, children);

export function replace(element, ...children) {
  element.replaceChildren(
    ...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false),
  );
  return element;
}

let counter = 0;
export const freshId = (stem) => `${stem}-${++counter}`;
