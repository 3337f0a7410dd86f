"use strict";
// Builds what is shown. Words of a message become text and nothing else: no file here writes HTML.

const tree = (() => {
  const SVG = "http://www.w3.org/2000/svg";

  function filled(node, attributes, children) {
    for (const [name, value] of Object.entries(attributes || {})) {
      if (value !== null && value !== undefined && value !== false) node.setAttribute(name, value === true ? "" : value);
    }
    for (const child of children.flat(9)) {
      if (child === null || child === undefined || child === false || child === "") continue;
      node.append(child instanceof Node ? child : document.createTextNode(String(child)));
    }
    return node;
  }

  const el = (name, attributes, ...children) => filled(document.createElement(name), attributes, children);
  const svg = (name, attributes, ...children) => filled(document.createElementNS(SVG, name), attributes, children);

  // Show a section in place of the one before, unless they are the same: focus, opened details and what a screen
  // reader is saying stay as they are.
  function show(place, ...children) {
    const next = filled(el("div"), {}, children);
    const opened = [...place.querySelectorAll("details[open]")].map((node) => node.id);
    for (const node of next.querySelectorAll("details")) node.open = opened.includes(node.id);
    const same = next.childNodes.length === place.childNodes.length &&
      [...next.childNodes].every((node, n) => node.isEqualNode(place.childNodes[n]));
    if (same) return;
    const focused = place.contains(document.activeElement) ? document.activeElement.id : "";
    place.replaceChildren(...next.childNodes);
    if (focused) document.getElementById(focused)?.focus();
  }

  // Shapes that say the same as their colour: what is more urgent has more corners filled.
  const SHAPES = {
    "act now": "M6 1h8l5 5v8l-5 5H6l-5-5V6z",
    "today": "M10 2l9 16H1z",
    "this week": "M10 2a8 8 0 1 0 .01 0z",
    "fine": "M3 10l5 6L17 4",
    "advice": "M2 10h15M11 4l6 6-6 6",
    "unknown": "M3 3l14 14M17 3L3 17",
  };

  function shape(kind, hollow = false) {
    const open = hollow || ["fine", "advice", "unknown"].includes(kind);
    return svg("svg", { viewBox: "0 0 20 20", class: `shape${open ? " hollow" : ""}`, "aria-hidden": "true" },
      svg("path", { d: SHAPES[kind] || SHAPES["this week"] }));
  }

  return { el, svg, show, shape };
})();
