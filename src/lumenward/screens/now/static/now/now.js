// Asks for the strip again every 15 s, and at once when the page comes back into view.
const strip = document.querySelector("[data-strip]");

async function renew() {
  if (document.hidden) return;
  const focused = document.activeElement?.getAttribute("href");
  try {
    const answer = await fetch(strip.dataset.strip, { headers: { Accept: "text/html" } });
    if (!answer.ok || answer.redirected) throw new Error(String(answer.status));
    strip.innerHTML = await answer.text();
    strip.classList.remove("stale");
    if (focused) strip.querySelector(`a[href="${CSS.escape(focused)}"]`)?.focus();
  } catch {
    strip.classList.add("stale");
    strip.setAttribute("title", "The server did not answer; this is how it stood before.");
  }
}

setInterval(renew, 15_000);
document.addEventListener("visibilitychange", renew);
