// Before the first paint: the light or dark chosen on this screen, if one was chosen.
(function () {
  const chosen = localStorage.getItem("lumenward.theme");
  if (chosen === "light" || chosen === "dark") document.documentElement.dataset.theme = chosen;
})();
