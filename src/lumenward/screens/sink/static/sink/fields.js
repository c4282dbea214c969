// One field for each kind of entry. A field has: entry, element, raw()/setRaw() for drafts, read() -> {value} or {why}
// or {} when empty, mark(sentence), focus(), and where it fits pick(value), pickPlace(n), digit(d).

import { freshId, h, replace } from "./dom.js";
import { readNumber, showQuantity, showTime, withOffset } from "./words.js";

const LETTERS = "ABCDEFGH";

class Field {
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
    return h("button", { type: "button", class: "again", onclick: () => this.setRaw(last, true) }, `As last time: ${last}${unit}`);
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
    const input = h("input", { id: this.id, type: "text", inputmode: "decimal", autocomplete: "off", "aria-describedby": this.described(), maxlength: 16 });
    this.unit = h("span", { class: "unit" }, entry.unit);
    this.build(input, this.unit);
    this.second = h("input", { type: "checkbox", id: `${this.id}-sure`, onchange: () => this.changed() });
    this.sure = h("div", { class: "tick sure", hidden: true }, this.second, h("label", { for: `${this.id}-sure` }, "I looked twice: this number is right"));
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
    if (low !== null && value < low) return { why: `${found} is below ${showQuantity(low, unit)}. ${low_why ?? ""}`.trim() };
    if (high !== null && value > high) return { why: `${found} is above ${showQuantity(high, unit)}. ${high_why ?? ""}`.trim() };
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
    this.input = h("input", { type: "checkbox", id: this.id, "aria-describedby": this.described(), onchange: () => this.changed() });
    this.input.checked = entry.value === true;
    this.element = h("div", { class: "field whole" }, h("div", { class: "tick" }, this.input, h("label", { for: this.id }, entry.label)), this.hint(), this.error);
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

// Large buttons, one of which is chosen. What cannot be chosen says why and stays visible.
export class ChoiceField extends Field {
  constructor(entry, context) {
    super(entry, context);
    this.group = h("div", { class: "choices", role: "radiogroup", "aria-label": entry.label });
    this.draw(entry.choices ?? []);
    const whole = (entry.choices ?? []).length > 2 || entry.kind === "fill" ? "field whole" : "field";
    this.element = h("fieldset", { class: whole }, h("legend", {}, entry.label, this.optional()), this.hint(), this.group, this.error);
    const preset = (entry.choices ?? []).findIndex((choice) => choice.value === entry.value);
    if (preset >= 0 && entry.value !== null && entry.value !== undefined) this.pickPlace(preset, false);
  }

  draw(choices) {
    this.choices = choices;
    replace(this.group, choices.map((choice, place) => this.card(choice, place)));
  }

  card(choice, place) {
    const id = `${this.id}-${place}`;
    const last = this.context.remembered(this.entry) === choice.value;
    const input = h("input", { type: "radio", name: this.id, id, disabled: Boolean(choice.why_not), "aria-describedby": this.described(), onchange: () => this.changed() });
    const notes = [choice.why_not || choice.note, last ? "as last time" : ""].filter(Boolean).join(" · ");
    const letter = place < LETTERS.length ? h("span", { class: "letter", "aria-hidden": "true" }, LETTERS[place]) : null;
    const words = h("span", { class: "words" }, choice.label, notes ? h("small", {}, notes) : null);
    return h("div", { class: choice.why_not ? "choice not" : "choice" }, input, h("label", { for: id }, words, letter));
  }

  judged() {
    return this.group;
  }

  // Shows only the choices that fit; one that fits no more is let go.
  narrow(fits) {
    for (const [place, input] of this.inputs().entries()) {
      const open = fits(this.choices[place]);
      input.parentElement.hidden = !open;
      if (!open) input.checked = false;
    }
  }

  inputs() {
    return [...this.group.querySelectorAll("input")];
  }

  chosen() {
    return this.choices[this.inputs().findIndex((input) => input.checked)] ?? null;
  }

  raw() {
    return this.chosen()?.value ?? null;
  }

  setRaw(value) {
    this.pick(value, false);
  }

  pick(value, tell = true) {
    const place = this.choices.findIndex((choice) => choice.value === value);
    return place >= 0 && this.pickPlace(place, tell);
  }

  pickPlace(place, tell = true) {
    const input = this.inputs()[place];
    if (!input || input.disabled || input.parentElement.hidden) return false;
    input.checked = true;
    if (tell) this.changed();
    return true;
  }

  read() {
    const choice = this.chosen();
    return choice ? { value: choice.value, choice } : {};
  }
}

// Scanned, picked, or typed where the plan has nothing to pick from.
export class ScanField extends ChoiceField {
  constructor(entry, context) {
    super(entry, context);
    this.typed = h("input", {
      id: this.id, type: "text", autocomplete: "off", autocapitalize: "off", spellcheck: "false", maxlength: 80,
      "aria-label": `${entry.label}: type it`, "aria-describedby": this.described(), oninput: () => this.typing(),
    });
    this.element.querySelector(".hint")?.remove();
    const how = (entry.choices ?? []).length ? "Scan it, or pick it" : "Scan it, or type it";
    this.element.insertBefore(h("p", { class: "scanme", id: `${this.id}-hint` }, entry.hint ? `${how}: ${entry.hint}` : how), this.group);
    if ((entry.choices ?? []).length) this.typed.hidden = true;
    this.element.insertBefore(this.typed, this.error);
    if (!entry.choices?.length && typeof entry.value === "string") this.typed.value = entry.value;
  }

  control() {
    return this.choices.length ? this.inputs()[0] : this.typed;
  }

  typing() {
    this.changed();
  }

  // Takes what a scan resolved to: {id, label, usable, why_not}.
  take(found) {
    if (this.choices.length) {
      if (this.pick(found.id)) return "";
      const known = this.choices.find((choice) => choice.value === found.id);
      return known?.why_not || found.why_not || `${found.label} is not one of those that fit here.`;
    }
    this.typed.value = found.id;
    this.changed();
    return "";
  }

  raw() {
    return this.choices.length ? super.raw() : this.typed.value;
  }

  setRaw(value) {
    if (this.choices.length) super.setRaw(value);
    else this.typed.value = value ?? "";
  }

  read() {
    if (this.choices.length) return super.read();
    const text = this.typed.value.trim();
    return text ? { value: text } : {};
  }
}

const AGO = [0, 10, 20, 30, 45];

// A clock time of today or, when that would lie ahead, of yesterday; or minutes ago from large buttons.
export class TimeField extends Field {
  constructor(entry, context) {
    super(entry, context);
    this.input = h("input", { id: this.id, type: "text", inputmode: "numeric", autocomplete: "off", maxlength: 5, placeholder: "10:42", "aria-describedby": this.described(), oninput: () => this.changed() });
    const quick = AGO.map((minutes) => h("button", { type: "button", onclick: () => this.ago(minutes) }, minutes ? `${minutes} min ago` : "Just now"));
    this.said = h("p", { class: "hint", role: "status" });
    this.element = h("div", { class: "field" }, h("label", { for: this.id }, entry.label, this.optional()), h("div", { class: "withunit" }, this.input, h("span", { class: "unit" }, "h:min")), h("div", { class: "quick" }, quick), this.said, this.hint(), this.error);
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
    if (!parts || Number(parts[1]) > 23 || Number(parts[2]) > 59) return { why: `“${text}” is not a time. Type it like 10:42.` };
    const at = new Date();
    at.setHours(Number(parts[1]), Number(parts[2]), 0, 0);
    const yesterday = at.getTime() > Date.now() + 60000;
    if (yesterday) at.setDate(at.getDate() - 1);
    this.said.textContent = `${yesterday ? "Yesterday" : "Today"} at ${showTime(at)}`;
    return { value: withOffset(at), at };
  }
}

// How high the water stands: a line on the wall, or a depth typed.
export class FillField extends ChoiceField {
  constructor(entry, context) {
    super({ ...entry, choices: [] }, context);
    this.entry = entry;
    this.typed = h("input", { id: this.id, type: "text", inputmode: "decimal", autocomplete: "off", maxlength: 10, "aria-describedby": this.described(), oninput: () => this.typing() });
    const other = h("div", { class: "withunit" }, this.typed, h("span", { class: "unit" }, "cm deep"));
    this.element.insertBefore(h("label", { for: this.id, class: "otherwise" }, "or the depth, measured"), this.error);
    this.element.insertBefore(other, this.error);
  }

  // The marks belong to the vessel and detergent chosen.
  offer(dosing) {
    if (this.dosing === dosing) return;
    const kept = this.raw();
    this.dosing = dosing;
    this.draw((dosing?.marks ?? []).map((mark) => ({ ...mark })));
    this.setRaw(kept);
  }

  typing() {
    for (const input of this.inputs()) input.checked = false;
    this.changed();
  }

  pickPlace(place, tell = true) {
    if (this.typed) this.typed.value = "";
    return super.pickPlace(place, tell);
  }

  digit(digit) {
    this.typed.value = digit === null ? this.typed.value.slice(0, -1) : this.typed.value + digit;
    this.typing();
  }

  raw() {
    return this.chosen()?.value ?? this.typed.value;
  }

  setRaw(value) {
    if (!this.pick(value, false)) this.typed.value = typeof value === "string" && !this.choices.some((c) => c.value === value) ? value : "";
  }

  read() {
    const mark = this.chosen();
    if (mark) return { fill_m: Number(mark.value) };
    const typed = readNumber(this.typed.value);
    if (typed.why === "empty") return {};
    return typed.why ? { why: `${typed.why}. Type the depth in cm.` } : { fill_m: typed.value / 100 };
  }
}

const KINDS = { number: NumberField, words: WordsField, tick: TickField, choice: ChoiceField, scan: ScanField, time: TimeField, fill: FillField };

export const makeField = (entry, context) => new KINDS[entry.kind](entry, context);
