// What all fields share. A field has: entry, element, raw()/setRaw() for drafts, read() -> {value} or {why} or {} when
// empty, mark(sentence), focus(), and where it fits pick(value), pickPlace(n), digit(d).

import { freshId, h } from "./dom.js";

export class Field {
  constructor(entry, context) {
    this.entry = entry;
    this.context = context;
    this.id = freshId(entry.key);
    this.error = h("p", { class: "error", id: `${this.id}-error`, hidden: true });
  }

  hint() {
    return this.entry.hint ? h("p", { class: "hint", id: `${this.id}-hint` }, this.entry.hint) : null;
  }

  described() {
    return `${this.id}-error` + (this.entry.hint ? ` ${this.id}-hint` : "");
  }

  optional() {
    return this.entry.required ? null : h("span", { class: "quiet" }, " (may stay empty)");
  }

  mark(sentence) {
    this.error.textContent = sentence ?? "";
    this.error.hidden = !sentence;
    this.judged()?.setAttribute("aria-invalid", sentence ? "true" : "false");
  }

  judged() {
    return this.control();
  }

  control() {
    return this.element.querySelector("input, textarea");
  }

  focus() {
    this.control()?.focus();
  }

  empty() {
    return Object.keys(this.read()).length === 0;
  }

  changed() {
    this.mark("");
    this.context.changed(this);
  }
}
