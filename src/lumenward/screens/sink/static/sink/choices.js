// Fields that are picked from large buttons, by hand or by scan.

import { h, replace } from "./dom.js";
import { Field } from "./field.js";
import { readNumber } from "./words.js";

const LETTERS = "ABCDEFGH";
const FEW = 3;

// Large buttons, one of which is chosen. What cannot be chosen says why and stays visible.
export class ChoiceField extends Field {
  constructor(entry, context) {
    super(entry, context);
    this.group = h("div", { class: "choices", role: "radiogroup", "aria-label": entry.label });
    this.draw(entry.choices ?? []);
    const whole = (entry.choices ?? []).length > 2 || entry.kind === "fill" ? "field whole" : "field";
    this.element = h(
      "fieldset",
      { class: whole },
      h("legend", {}, entry.label, this.optional()),
      this.hint(),
      this.group,
      this.error,
    );
    const preset = (entry.choices ?? []).findIndex((choice) => choice.value === entry.value);
    if (preset >= 0 && entry.value !== null && entry.value !== undefined) this.pickPlace(preset, false);
  }

  draw(choices) {
    this.choices = choices;
    const cards = choices.map((choice, place) => this.card(choice, place));
    const usable = choices.findLastIndex((choice) => !choice.why_not) + 1;
    const folds = usable && choices.length - usable > FEW;
    replace(this.group, folds ? [cards.slice(0, usable), this.folded(cards.slice(usable))] : cards);
  }

  // A crowd of what cannot be chosen is told by its number; each says why once the crowd is opened.
  folded(cards) {
    return h("details", { class: "more" }, h("summary", {}, `${cards.length} more that cannot be used here: why`), cards);
  }

  card(choice, place) {
    const id = `${this.id}-${place}`;
    const last = this.context.remembered(this.entry) === choice.value;
    const input = h("input", {
      type: "radio",
      name: this.id,
      id,
      disabled: Boolean(choice.why_not),
      "aria-describedby": this.described(),
      onchange: () => this.changed(),
    });
    const notes = [choice.why_not || choice.note, last ? "as last time" : ""].filter(Boolean).join(" · ");
    const letter =
      place < LETTERS.length ? h("span", { class: "letter", "aria-hidden": "true" }, LETTERS[place]) : null;
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
      id: this.id,
      type: "text",
      autocomplete: "off",
      autocapitalize: "off",
      spellcheck: "false",
      maxlength: 80,
      "aria-label": `${entry.label}: type it`,
      "aria-describedby": this.described(),
      oninput: () => this.typing(),
    });
    this.element.querySelector(".hint")?.remove();
    const how = (entry.choices ?? []).length ? "Scan it, or pick it" : "Scan it, or type it";
    this.element.insertBefore(
      h("p", { class: "scanme", id: `${this.id}-hint` }, entry.hint ? `${how}: ${entry.hint}` : how),
      this.group,
    );
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

// How high the water stands: a line on the wall, or a depth typed.
export class FillField extends ChoiceField {
  constructor(entry, context) {
    super({ ...entry, choices: [] }, context);
    this.entry = entry;
    this.typed = h("input", {
      id: this.id,
      type: "text",
      inputmode: "decimal",
      autocomplete: "off",
      maxlength: 10,
      "aria-describedby": this.described(),
      oninput: () => this.typing(),
    });
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
    if (!this.pick(value, false))
      this.typed.value = typeof value === "string" && !this.choices.some((c) => c.value === value) ? value : "";
  }

  read() {
    const mark = this.chosen();
    if (mark) return { fill_m: Number(mark.value) };
    const typed = readNumber(this.typed.value);
    if (typed.why === "empty") return {};
    return typed.why ? { why: `${typed.why}. Type the depth in cm.` } : { fill_m: typed.value / 100 };
  }
}
