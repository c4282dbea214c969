// A scanner ends its code with Enter: in a desk form that goes on to the next field and never sends half a form.
for (const form of document.querySelectorAll("form[data-desk]")) {
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.target.tagName !== "INPUT") return;
    event.preventDefault();
    const fields = [...form.elements].filter((one) => one.type !== "hidden" && !one.disabled && one.tabIndex >= 0);
    fields[fields.indexOf(event.target) + 1]?.focus();
  });
}
