// Fields that are typed or ticked: numbers, words, ticks, times.

import { h } from "./dom.js";
import { Field } from "./field.js";
import { readNumber, showQuantity, showTime, withOffset } from "./words.js";

class TextField extends Field {
  build(input, ...after) {
    this.input = input;
    input.addEventListener("input", () => this.changed());
    input.addEventListener("change", () => this.mark(this.read().why));
    this.element = h(
      "div",
      { class: "field" },
      h("label", { for: this.id }, this.entry.label, this.optional()),
      after.length ? h("div", { class: "withunit" }, input, ...after) : input,
      this.last(),
      this.hint(),
      this.error,
    );
  }

  last() {
    const last = this.context.remembered(this.entry);
    if (typeof last !== "string" || !last) return null;
    const unit = this.entry.unit ? ` ${this.entry.unit}` : "";
    return h(
      "button",
      { type: "button", class: "again", onclick: () => this.setRaw(last, true) },
      `As last time: ${last}${unit}`,
    );
  }

  raw() {
    return this.input.value;
  }

  setRaw(text, tell = false) {
    this.input.value = text;
    if (tell) this.changed();
  }
}

export class NumberField extends TextField {
  constructor(entry, context) {
    super(entry, context);
    const input = h("input", {
      id: this.id,
      type: "text",
      inputmode: "decimal",
      autocomplete: "off",
      "aria-describedby": this.described(),
      maxlength: 16,
    });
    this.unit = h("span", { class: "unit" }, entry.unit);
    this.build(input, this.unit);
    this.second = h("input", { type: "checkbox", id: `${this.id}-sure`, onchange: () => this.changed() });
    this.sure = h(
      "div",
      { class: "tick sure", hidden: true },
      this.second,
      h("label", { for: `${this.id}-sure` }, "I looked twice: this number is right"),
    );
    this.element.insertBefore(this.sure, this.error);
    if (entry.value !== null && entry.value !== undefined) input.value = String(entry.value);
    this.bounds = {};
  }

  setUnit(unit) {
    this.unit.textContent = unit;
  }

  digit(digit) {
    this.setRaw(digit === null ? this.input.value.slice(0, -1) : this.input.value + digit, true);
  }

  read() {
    const typed = readNumber(this.input.value);
    this.sure.hidden = true;
    if (typed.why === "empty") return {};
    if (typed.why) return { why: `${typed.why}. Type a number, for example 36.5 or 36,5.` };
    return this.within(typed.value);
  }

  within(value) {
    const unit = this.unit.textContent;
    const { low_why, high_why, confirm_above } = this.entry;
    const low = this.bounds.low ?? this.entry.low ?? null;
    const high = this.bounds.high ?? this.entry.high ?? null;
    const found = showQuantity(value, unit);
    if (low !== null && value < low)
      return { why: `${found} is below ${showQuantity(low, unit)}. ${low_why ?? ""}`.trim() };
    if (high !== null && value > high)
      return { why: `${found} is above ${showQuantity(high, unit)}. ${high_why ?? ""}`.trim() };
    if (typeof confirm_above === "number" && value > confirm_above) {
      this.sure.hidden = false;
      if (!this.second.checked) return { why: `${found} is unusually high. Look again, then say that it is right.` };
    }
    return { value };
  }
}

export class WordsField extends TextField {
  constructor(entry, context) {
    super(entry, context);
    this.build(h("textarea", { id: this.id, rows: 2, maxlength: 500, "aria-describedby": this.described() }));
    if (entry.value) this.input.value = entry.value;
  }

  read() {
    const text = this.input.value.trim();
    return text ? { value: text } : {};
  }
}

export class TickField extends Field {
  constructor(entry, context) {
    super(entry, context);
    this.input = h("input", {
      type: "checkbox",
      id: this.id,
      "aria-describedby": this.described(),
      onchange: () => this.changed(),
    });
    this.input.checked = entry.value === true;
    this.element = h(
      "div",
      { class: "field whole" },
      h("div", { class: "tick" }, this.input, h("label", { for: this.id }, entry.label)),
      this.hint(),
      this.error,
    );
  }

  raw() {
    return this.input.checked;
  }

  setRaw(value) {
    this.input.checked = value === true;
  }

  yes() {
    this.input.checked = true;
    this.changed();
  }

  read() {
    return this.input.checked ? { value: true } : {};
  }
}

const AGO = [0, 10, 20, 30, 45];

// A clock time of today or, when that would lie ahead, of yesterday; or minutes ago from large buttons.
export class TimeField extends Field {
  constructor(entry, context) {
    super(entry, context);
    this.input = h("input", {
      id: this.id,
      type: "text",
      inputmode: "numeric",
      autocomplete: "off",
      maxlength: 5,
      placeholder: "10:42",
      "aria-describedby": this.described(),
      oninput: () => this.changed(),
    });
    const quick = AGO.map((minutes) =>
      h("button", { type: "button", onclick: () => this.ago(minutes) }, minutes ? `${minutes} min ago` : "Just now"),
    );
    this.said = h("p", { class: "hint", role: "status" });
    this.element = h(
      "div",
      { class: "field" },
      h("label", { for: this.id }, entry.label, this.optional()),
      h("div", { class: "withunit" }, this.input, h("span", { class: "unit" }, "h:min")),
      h("div", { class: "quick" }, quick),
      this.said,
      this.hint(),
      this.error,
    );
  }

  ago(minutes) {
    this.input.value = showTime(Date.now() - minutes * 60000);
    this.changed();
  }

  pickPlace(place) {
    if (place >= AGO.length) return false;
    this.ago(AGO[place]);
    return true;
  }

  digit(digit) {
    const plain = digit === null ? this.input.value.slice(0, -1) : this.input.value + digit.replace(".", ":");
    this.input.value = /^\d{3}$/.test(plain) ? `${plain.slice(0, 2)}:${plain.slice(2)}` : plain;
    this.changed();
  }

  raw() {
    return this.input.value;
  }

  setRaw(text) {
    this.input.value = text ?? "";
    this.read();
  }

  read() {
    const text = this.input.value.trim();
    this.said.textContent = "";
    if (!text) return {};
    const parts = /^(\d{1,2})[:.,hH](\d{2})$/.exec(text);
    if (!parts || Number(parts[1]) > 23 || Number(parts[2]) > 59)
      return { why: `“${text}” is not a time. Type it like 10:42.` };
    const at = new Date();
    at.setHours(Number(parts[1]), Number(parts[2]), 0, 0);
    const yesterday = at.getTime() > Date.now() + 60000;
    if (yesterday) at.setDate(at.getDate() - 1);
    this.said.textContent = `${yesterday ? "Yesterday" : "Today"} at ${showTime(at)}`;
    return { value: withOffset(at), at };
  }
}
