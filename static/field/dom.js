// Elements made by hand: words from outside only ever become text nodes.

const SVG = "http://www.w3.org/2000/svg";

function append(element, children) {
  for (const child of children.flat(Infinity)) {
    if (child !== null && child !== undefined && child !== false) {
      element.append(child);
    }
  }
  return element;
}

export function h(name, props = {}, ...children) {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(props)) {
    if (value === null || value === undefined || value === false) {
      continue;
    }
    if (key.startsWith("on")) {
      element.addEventListener(key.slice(2), value);
    } else if (key === "value" || key === "checked") {
      element[key] = value;
    } else {
      element.setAttribute(key, value === true ? "" : value);
    }
  }
  return append(element, children);
}

export function svg(name, attributes = {}, ...children) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) {
    element.setAttribute(key, value);
  }
  return append(element, children);
}

export function button(words, act, { look = "", ...props } = {}) {
  return h("button", { type: "button", class: `button ${look}`, onclick: act, ...props }, words);
}

export function link(words, to, look = "button button--second") {
  return h("a", { href: to, class: look }, words);
}

/** A word-tab: the word says the state, colour and edge only repeat it. */
export function tab(words, look = "note") {
  return h("span", { class: `tab tab--${look}` }, words);
}

export function notice(look, title, ...content) {
  return h("section", { class: `notice notice--${look}` }, h("h2", {}, title), ...content);
}

const SHORT = 18;
const isThreeShort = (options) => options.length === 3 && options.every(([, words]) => words.length <= SHORT);

/** Radio buttons as large keys; `chosen` may be null. */
export function choice({ label, hint, name, options, chosen, onchoose, describedby }) {
  const keys = options.map(([value, words]) =>
    h("label", { class: "key" },
      h("input", {
        type: "radio", name, value: String(value), checked: value === chosen,
        onchange: () => onchoose(value),
      }),
      h("span", {}, words)));
  return h("fieldset", { class: "choice", "aria-describedby": describedby },
    h("legend", {}, label), hint ? h("p", { class: "hint" }, hint) : null,
    h("div", { class: isThreeShort(options) ? "keys keys--three" : "keys" }, keys));
}

export function textField({ id, label, hint, value, onchange, lines = 1, ...props }) {
  const shape = lines > 1 ? ["textarea", { rows: lines }] : ["input", { type: "text" }];
  return h("div", { class: "field" },
    h("label", { for: id }, label),
    hint ? h("p", { class: "hint", id: `${id}-hint` }, hint) : null,
    h(shape[0], {
      id, class: "text", autocomplete: "off", ...shape[1], ...props,
      "aria-describedby": hint ? `${id}-hint` : null, value: value ?? "",
      oninput: (event) => onchange(event.target.value),
    }));
}

export function selectField({ id, label, hint, value, options, onchange }) {
  return h("div", { class: "field" },
    h("label", { for: id }, label),
    hint ? h("p", { class: "hint", id: `${id}-hint` }, hint) : null,
    h("select", {
      id, class: "text", "aria-describedby": hint ? `${id}-hint` : null,
      onchange: (event) => onchange(event.target.value),
    }, options.map(([code, words]) => h("option", { value: code, selected: code === value }, words))));
}
