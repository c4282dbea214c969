// "Not as it should be": what can be wrong in this step, what to do about it, and the act that says so.

import { h, replace } from "./dom.js";
import { Form } from "./form.js";

export class TroublePanel {
  // ask(trouble) -> {fixed, carried, draftKey}; onConfirm(trouble, form); onClose().
  constructor({ step, ask, onConfirm, onClose }) {
    Object.assign(this, { step, ask, onConfirm, onClose, form: null });
    this.element = h("section", { class: "troubles", "aria-label": "Not as it should be" });
    this.closed();
  }

  get open() {
    return this.trouble !== undefined && this.trouble !== null;
  }

  closed() {
    this.trouble = null;
    this.form = null;
    const troubles = this.step.troubles ?? [];
    const buttons = troubles.map((trouble) =>
      h("button", { type: "button", onclick: () => this.choose(trouble) }, trouble.label),
    );
    const title = troubles.length > 1 ? h("h2", { class: "quiet" }, "Not as it should be?") : null;
    replace(this.element, troubles.length ? [title, h("div", { class: "ways" }, buttons)] : []);
  }

  choose(trouble, given = {}) {
    this.trouble = trouble;
    const asked = this.ask(trouble);
    const entries = (trouble.entries ?? []).map((entry) =>
      entry.key in given ? { ...entry, value: given[entry.key] } : entry,
    );
    this.form = new Form({ entries, fixed: trouble.body ?? {}, ...asked });
    this.given = given;
    const heading = h("h2", { tabindex: "-1" }, trouble.label);
    replace(
      this.element,
      heading,
      h(
        "ol",
        { class: "say" },
        (trouble.say ?? []).map((line) => h("li", {}, line)),
      ),
      this.form.element,
      h(
        "button",
        { type: "button", class: "filled confirm", onclick: () => this.onConfirm(trouble, this.form) },
        trouble.confirm,
      ),
      h("button", { type: "button", onclick: () => this.back() }, "Back: it is as it should be"),
    );
    this.element.dispatchEvent(new CustomEvent("opened", { bubbles: true }));
    heading.focus();
    heading.scrollIntoView({ block: "start" });
  }

  back() {
    this.closed();
    this.onClose();
  }
}
