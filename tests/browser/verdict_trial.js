// Shows a verdict, signs when a PIN is given, and returns what the page then says.
async (v) => {
  const { Release } = await import("/static/sink/release.js");
  const said = [];
  const sent = [];
  const release = new Release({
    plan: { endoscope: "e", endoscope_name: "Heron 14", station: "s" },
    step: { confirm: "I release it" },
    cycle: "c",
    person: () => ({ id: "p", name: "M. Okafor" }),
    api: async (path, body) => {
      sent.push(path);
      if (body) throw v.refusal;
      return v.verdict;
    },
    onReleased: () => sent.push("released"),
    say: (words) => said.push(words),
  });
  document.getElementById("main").replaceChildren(release.element);
  await new Promise((done) => setTimeout(done, 50));
  if (v.pin) {
    release.pin.value = v.pin;
    await release.sign();
  }
  const text = (selector) => [...release.element.querySelectorAll(selector)].map((element) => element.textContent);
  return {
    verdict: text(".verdict"),
    against: text("ul.findings:not(details *) strong"),
    fix: text(".fix"),
    pin: text("label"),
    error: text(".error:not([hidden])"),
    kept: release.pin?.value ?? null,
    sent,
  };
}
