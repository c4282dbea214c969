// The entries of one step or trouble as a form: reading, checking, drafts, what one choice means for other fields.

import { byFill, doseBody, doseFor, outOfRange } from "./dosing.js";
import { h, replace } from "./dom.js";
import { ChoiceField, ScanField } from "./choices.js";
import { makeField } from "./entries.js";
import { NumberField, TickField } from "./fields.js";
import { lowOf } from "./progress.js";
import { showNumber, showQuantity } from "./words.js";

const RESERVED = new Set(["happened_at", "subject"]);

export class Form {
  // `carried`: body keys already known from earlier acts; `store` keeps drafts under `draftKey`.
  constructor({
    entries,
    dosings = [],
    fixed = {},
    carried = {},
    draftKey,
    lastKey,
    store = localStorage,
    onChange = () => {},
    onFull = () => {},
  }) {
    Object.assign(this, { dosings, fixed, carried, draftKey, lastKey, store, onChange, onFull });
    const context = { changed: () => this.changed(), remembered: (entry) => this.remembered(entry) };
    const asked = entries.filter((entry) => !(entry.key in carried) && !entry.elapsed);
    this.entries = entries;
    this.fields = asked.filter((entry) => !entry.graded).map((entry) => makeField(entry, context));
    this.dose = h("div", { class: "dose", hidden: true, "aria-live": "polite" });
    this.grade = h("p", { class: "grade", hidden: true, role: "status" });
    this.element = h(
      "form",
      { class: "entries", onsubmit: (event) => event.preventDefault(), novalidate: true },
      this.fields.map((field) => field.element),
      this.dose,
      this.grade,
    );
    this.restore();
    this.settle();
  }

  field(key) {
    return this.fields.find((field) => field.entry.key === key) ?? null;
  }

  remembered(entry) {
    if (!entry.remember) return null;
    const kept = JSON.parse(this.store.getItem(this.lastKey) ?? "{}");
    return kept[entry.key] ?? null;
  }

  restore() {
    const kept = JSON.parse(this.store.getItem(this.draftKey) ?? "{}");
    for (const field of this.fields) if (field.entry.key in kept) field.setRaw(kept[field.entry.key]);
  }

  changed() {
    this.keep(this.draftKey, this.fields);
    this.settle();
    this.onChange();
  }

  // After the act is made: the draft is done with, the values worth offering again are kept.
  finish() {
    this.store.removeItem(this.draftKey);
    const last = this.fields.filter((field) => field.entry.remember);
    if (last.length) this.keep(this.lastKey, last);
  }

  keep(key, fields) {
    try {
      this.store.setItem(
        key,
        JSON.stringify(Object.fromEntries(fields.map((field) => [field.entry.key, field.raw()]))),
      );
    } catch (error) {
      this.onFull(error);
    }
  }

  choices() {
    return this.fields
      .map((field) => (field instanceof ChoiceField ? (field.chosen?.() ?? null) : null))
      .filter(Boolean);
  }

  // What the choices made so far mean for the other fields.
  settle() {
    this.narrow();
    const bounds = Object.assign({}, ...this.choices().map((choice) => choice.bounds ?? {}));
    const units = Object.assign({}, ...this.choices().map((choice) => choice.units ?? {}));
    const body = this.known();
    for (const field of this.fields) {
      if (!(field instanceof NumberField)) continue;
      const [low, high] = bounds[field.entry.key] ?? [undefined, undefined];
      field.bounds = { low: low ?? lowOf(field.entry, body), high };
      field.setUnit(units[field.entry.key] ?? field.entry.unit);
    }
    const dosing = this.dosing();
    const fill = this.fields.find((field) => field.entry.kind === "fill");
    fill?.offer(dosing);
    this.showDose(dosing, fill);
    this.showGrade();
  }

  // Choices that go only with what was picked before are open only then.
  narrow() {
    const given = this.known();
    for (const field of this.fields) {
      if (field instanceof ChoiceField)
        field.narrow((choice) =>
          Object.entries(choice.only ?? {}).every(([key, allowed]) => allowed.includes(given[key])),
        );
    }
  }

  // Numbers that hold because of what was picked.
  targets() {
    return this.choices().flatMap((choice) => choice.targets ?? []);
  }

  // The dose table that fits the vessel and detergent known so far.
  dosing() {
    const body = this.known();
    const fits = (table) =>
      (body.vessel ?? table.vessel) === table.vessel && (body.detergent ?? table.detergent) === table.detergent;
    const fitting = this.dosings.filter(fits);
    return fitting.length === 1 || (fitting.length && body.detergent) ? fitting[0] : null;
  }

  known() {
    const sets = Object.assign({}, ...this.choices().map((choice) => choice.sets ?? {}));
    const given = Object.fromEntries(
      this.fields.map((field) => [field.entry.key, field.read().value]).filter(([, value]) => value !== undefined),
    );
    return { ...this.fixed, ...this.carried, ...sets, ...given };
  }

  showDose(dosing, fill) {
    this.dosed = null;
    const found = fill?.read();
    this.dose.hidden = !dosing || !fill;
    if (this.dose.hidden) return;
    if (found.fill_m === undefined)
      return void replace(
        this.dose,
        h("p", { class: "quiet" }, `Choose the line: the dose for ${dosing.vessel_name} follows.`),
      );
    const row = byFill(dosing.rows, found.fill_m);
    const warmth = this.field("temperature_c")?.raw() ?? String(this.known().temperature_c ?? "");
    const dosed = doseFor(dosing, { fill_m: found.fill_m, temperature: warmth });
    if (!row) return void replace(this.dose, h("p", { class: "error" }, dosed.why));
    this.dosed = dosed;
    this.fillInDose(row);
    replace(this.dose, ...this.doseWords(dosing, row));
  }

  doseWords(dosing, row) {
    const made = doseBody(row, null, this.poured());
    const window = [dosing.temperature_low_c, dosing.temperature_high_c].map((t) => showQuantity(t, "C")).join(" to ");
    const [low, high] = [made.low_ppm, made.high_ppm].map((ppm) => showNumber(ppm, 0));
    const interval = `${showNumber(made.concentration_ppm, 0)} ppm, between ${low} and ${high} ppm`;
    return [
      h(
        "p",
        { class: "dose-figure" },
        h("strong", {}, showQuantity(row[2], "mL", row[2] < 100 ? 1 : 0)),
        ` in ${showQuantity(row[1], "L", 1)} of water`,
      ),
      h("p", {}, `That makes ${interval}.`),
      h("p", { class: "quiet" }, `${dosing.dilution_words} — ${dosing.basis}: ${dosing.source}. ${window}.`),
    ];
  }

  // The field for what was measured in follows the planned dose until somebody types another one.
  fillInDose(row) {
    const field = this.field("dose_ml");
    if (!field) return;
    const planned = String(Number(row[2].toFixed(1)));
    if (field.raw() === "" || field.raw() === this.filledIn) field.setRaw(planned);
    this.filledIn = planned;
  }

  poured() {
    const found = this.field("dose_ml")?.read();
    return found?.value ?? null;
  }

  graded(entry) {
    const [numberKey, choiceKey] = entry.graded;
    const value = this.field(numberKey)?.read().value;
    const grades = this.field(choiceKey)?.chosen?.()?.grades ?? [];
    if (value === undefined || !grades.length) return undefined;
    return grades.find((grade) => grade.below === null || grade.below === undefined || value < grade.below)?.value;
  }

  showGrade() {
    const entry = this.entries.find((found) => found.graded);
    const value = entry ? this.graded(entry) : undefined;
    this.grade.hidden = value === undefined;
    if (value !== undefined) this.grade.textContent = `${entry.label}: ${value}`;
  }

  // Everything given, as {body, at, subject, problems: [{key, why}]}; `elapsed_s` for entries that want it.
  collect(elapsed_s = null) {
    const problems = [];
    const body = {
      ...this.fixed,
      ...this.carried,
      ...Object.assign({}, ...this.choices().map((choice) => choice.sets ?? {})),
    };
    const found = { body, problems, at: null, subject: undefined };
    for (const field of this.fields) this.collectField(field, found);
    for (const entry of this.entries) {
      if (entry.elapsed && elapsed_s !== null) body[entry.key] = Math.round(elapsed_s * 10) / 10;
      if (entry.graded && this.graded(entry) !== undefined) body[entry.key] = this.graded(entry);
    }
    if (this.dosed?.row) Object.assign(body, this.doseKeys(body));
    return found;
  }

  doseKeys(body) {
    return doseBody(this.dosed.row, body.temperature_c ?? this.dosed.temperature_c, this.poured());
  }

  collectField(field, found) {
    const { key, required, record, label } = field.entry;
    const read = field.read();
    const missing = required && Object.keys(read).length === 0;
    const why = read.why ?? (missing ? needed(field, label) : this.beyond(field));
    if (why) found.problems.push({ key, why });
    else if (key === "happened_at") found.at = read.at ?? null;
    else if (key === "subject") found.subject = read.value;
    else if (read.value !== undefined && record !== false && !RESERVED.has(key)) found.body[key] = read.value;
  }

  // A fill outside its table, or a temperature outside the label's window.
  beyond(field) {
    if (field.entry.kind === "fill" && !this.dosed?.row)
      return this.dosing()
        ? "That depth is outside this vessel's table: fill to one of the lines."
        : "Choose the detergent first: the dose follows from it.";
    if (field.entry.key === "temperature_c" && this.dosed?.why && this.dosed.field === "temperature_c")
      return this.dosed.why;
    if (field.entry.key === "dose_ml" && this.dosed?.row)
      return outOfRange(this.dosing(), this.dosed.row, this.poured());
    return "";
  }

  show(problems) {
    const byKey = new Map(problems.map((problem) => [problem.key, problem.why]));
    for (const field of this.fields) field.mark(byKey.get(field.entry.key) ?? "");
    const first = this.fields.find((field) => byKey.has(field.entry.key));
    first?.focus();
    first?.element.scrollIntoView({ block: "center" });
    return Boolean(first);
  }

  // The next field without a value; for the pedal and the bench card.
  next() {
    return this.fields.find((field) => field.entry.required && field.empty()) ?? null;
  }

  nextTick() {
    const next = this.next();
    return next instanceof TickField ? next : null;
  }

  // The field a scanned thing belongs to: the first empty one that asks for its kind, else the last such one.
  wants(kind) {
    const asking = this.fields.filter((field) => field instanceof ScanField && field.entry.scans === kind);
    return asking.find((field) => field.empty()) ?? asking.at(-1) ?? null;
  }

  asksFor() {
    return [
      ...new Set(
        this.fields
          .filter((field) => field instanceof ScanField)
          .map((field) => field.entry.scans)
          .filter(Boolean),
      ),
    ];
  }

  byCode(code) {
    for (const field of this.fields) {
      if (!(field instanceof ChoiceField)) continue;
      const choice = field.choices.find((found) => found.code && found.code === code);
      if (choice) return { field, choice };
    }
    return null;
  }
}

function needed(field, label) {
  if (field instanceof TickField) return "This must be so before you go on.";
  return `Still needed: ${label.replace(/[?:.]$/, "")}.`;
}
