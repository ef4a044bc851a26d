// The drawing board: small helpers that make SVG and HTML nodes. Everything on the page is built with these, so that
// the content security policy can forbid inline style and script: attributes are set, never parsed from text.

const SVG = "http://www.w3.org/2000/svg";

function fill(node, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else node.setAttribute(name, value === true ? "" : String(value));
  }
  node.append(...children.flat().filter((child) => child !== null && child !== undefined && child !== false));
  return node;
}

/** An SVG node. */
export const svg = (name, attributes = {}, ...children) =>
  fill(document.createElementNS(SVG, name), attributes, children);

/** An HTML node. */
export const html = (name, attributes = {}, ...children) => fill(document.createElement(name), attributes, children);

/** The letter of the blade so many places after A, and back: -1 where it is none. */
export const bladeLetter = (index) => String.fromCharCode(65 + index);
export const bladeIndex = (letter) => (/^[A-Z]$/.test(letter ?? "") ? letter.charCodeAt(0) - 65 : -1);

export const $ = (id) => document.getElementById(id);

/** Sets attributes of a node only where they change, so that a drawing that stands still costs nothing. */
export function set(node, attributes) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) node.removeAttribute(name);
    else if (node.getAttribute(name) !== String(value)) node.setAttribute(name, String(value));
  }
}

/** Sets the text of a node only where it changes: a live region is read aloud at every change. */
export function write(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

const called = (control) => control.getAttribute("aria-label") ?? control.textContent;

/** Draws a part of the page anew. Whoever stood on a control of it stands on the one of the same name again; where there
 * is none any more, on the part itself, so that the next Tab goes on from there. */
export function redraw(node, ...children) {
  const held = node.contains(document.activeElement) ? called(document.activeElement) : null;
  node.replaceChildren(...children);
  if (held === null) return;
  const same = [...node.querySelectorAll("button, input, select, summary")].find((control) => called(control) === held);
  const part = children.length ? node : node.parentElement;
  if (!same) part.setAttribute("tabindex", "-1");
  (same ?? part).focus({ preventScroll: true });
}

/** A point at `radius` and `degrees` from the positive x axis, anticlockwise as an angle is drawn on paper. */
export function polar(radius, degrees, x = 0, y = 0) {
  const a = (degrees * Math.PI) / 180;
  return [x + radius * Math.cos(a), y - radius * Math.sin(a)];
}

export const at = ([x, y]) => `${x.toFixed(2)} ${y.toFixed(2)}`;

/** Path of an arc about a centre, from one paper angle to another. */
export function arc(radius, from, to, x = 0, y = 0) {
  const large = Math.abs(to - from) > 180 ? 1 : 0;
  const sweep = to < from ? 1 : 0;
  return `M${at(polar(radius, from, x, y))} A${radius} ${radius} 0 ${large} ${sweep} ${at(polar(radius, to, x, y))}`;
}

/** Open arrow head with its tip at a point, pointing along a paper angle. */
export function head(tip, degrees, size = 10) {
  const left = polar(size, degrees + 180 - 22, ...tip);
  const right = polar(size, degrees + 180 + 22, ...tip);
  return `M${at(left)} L${at(tip)} L${at(right)}`;
}

/** A number as the trade writes it: sign always shown, a real minus. */
export function signed(value, places = 2) {
  if (value === null || value === undefined || !Number.isFinite(value)) return "–";
  const text = Math.abs(value).toFixed(places);
  return (value < 0 && Number(text) !== 0 ? "−" : "+") + text;
}

export const plain = (value, places = 2) =>
  value === null || value === undefined ? "–" : Math.abs(value).toFixed(places);

const calm = window.matchMedia("(prefers-reduced-motion: reduce)");
/** Whether the person asked for less motion. */
export const still = () => calm.matches;

/** Upper and lower surface of a symmetric four-digit section (Abbott & von Doenhoff, Theory of Wing Sections, ch. 6),
 * closed at the trailing edge, chord 1 from the leading edge at x = 0, thickness as a share of the chord. */
export function profile(thickness) {
  const half = (x) =>
    5 * thickness * (0.2969 * Math.sqrt(x) - 0.126 * x - 0.3516 * x ** 2 + 0.2843 * x ** 3 - 0.1036 * x ** 4);
  const stations = Array.from({ length: 41 }, (_, i) => (1 - Math.cos((Math.PI * i) / 40)) / 2);
  return { upper: stations.map((x) => [x, half(x)]), lower: stations.map((x) => [x, -half(x)]).reverse() };
}
