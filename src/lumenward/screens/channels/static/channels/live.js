// Moving a clamp or a choice asks the server for the figures only; without this the links and the button do the same.

const box = document.querySelector("[data-figures]");
const form = document.querySelector("[data-asks]");
let asked = 0;

async function show(search) {
  const turn = ++asked;
  const held = document.activeElement?.dataset?.live;
  const answer = await fetch(box.dataset.figures + search, { headers: { Accept: "text/html" } });
  if (answer.redirected) return location.assign(location.pathname + search);
  const text = await answer.text();
  if (turn !== asked) return;
  const parts = new DOMParser().parseFromString(text, "text/html").body.childNodes;
  box.replaceChildren(...parts);
  history.replaceState(null, "", location.pathname + search);
  keepShut(search);
  if (held) box.querySelector(`[data-live="${CSS.escape(held)}"]`)?.focus();
}

// The form carries the clamps as they are now.
function keepShut(search) {
  for (const old of form.querySelectorAll('input[name="shut"]')) old.remove();
  for (const port of new URLSearchParams(search).getAll("shut")) {
    const input = document.createElement("input");
    Object.assign(input, { type: "hidden", name: "shut", value: port });
    form.append(input);
  }
}

const fallBack = (search) => location.assign(location.pathname + search);

if (box && form) {
  box.addEventListener("click", (event) => {
    const link = event.target.closest("a[data-live]");
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    const search = new URL(link.getAttribute("href"), location.href).search;
    show(search).catch(() => fallBack(search));
  });
  const ask = (event) => {
    event?.preventDefault();
    const search = `?${new URLSearchParams(new FormData(form))}`;
    show(search).catch(() => fallBack(search));
  };
  form.addEventListener("change", ask);
  form.addEventListener("submit", ask);
}
