// What every page has: the time in the header, the choice of light or dark, and the list of keys behind "?".

function tick() {
  for (const clock of document.querySelectorAll("[data-clock]")) {
    const now = new Date();
    const zone = clock.dataset.clock || undefined;
    clock.textContent = now.toLocaleTimeString("en-GB", { hour: "numeric", minute: "2-digit", timeZone: zone });
    clock.dateTime = now.toISOString();
  }
}

function shownTheme() {
  const chosen = document.documentElement.dataset.theme;
  if (chosen) return chosen;
  return matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light";
}

function wireTheme() {
  for (const button of document.querySelectorAll("[data-theme-choice]")) {
    const label = () => (button.textContent = shownTheme() === "dark" ? "Light colours" : "Dark colours");
    button.addEventListener("click", () => {
      const next = shownTheme() === "dark" ? "light" : "dark";
      document.documentElement.dataset.theme = next;
      localStorage.setItem("lumenward.theme", next);
      label();
    });
    label();
  }
}

function typing(target) {
  return target instanceof Element && target.closest("input, textarea, select, [contenteditable]") !== null;
}

function wireKeys() {
  const list = document.getElementById("keys");
  if (!list) return;
  const turn = () => (list.open ? list.close() : list.showModal());
  for (const button of document.querySelectorAll("[data-keys]")) button.addEventListener("click", turn);
  document.addEventListener("keydown", (event) => {
    if (event.key !== "?" || event.ctrlKey || event.altKey || event.metaKey || typing(event.target)) return;
    event.preventDefault();
    turn();
  });
}

tick();
setInterval(tick, 5000);
wireTheme();
wireKeys();
