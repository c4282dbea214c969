// Choosing an endoscope by scan, whatever has focus.

import { listen, readCard } from "./scan.js";
import { talk } from "./talk.js";

const settings = JSON.parse(document.getElementById("settings").textContent);
const api = talk(document.querySelector("meta[name=csrf-token]").content);
const say = (words) => (document.getElementById("heard").textContent = words);

async function scanned(code) {
  if (readCard(code)) return say("That code works on the page of an endoscope. Scan the endoscope first.");
  try {
    const thing = await api("/api/v1/scan", { code, station: settings.station, expects: "endoscope" });
    if (thing.kind !== "endoscope")
      return say(`That is ${thing.label}, not an endoscope. Scan the code on the endoscope.`);
    location.assign(`${settings.station_address}${encodeURIComponent(thing.id)}/`);
  } catch (error) {
    say([error.message, error.hint].filter(Boolean).join(" "));
  }
}

listen({ onScan: scanned, onBroken: () => say("A scan broke off. Scan it again.") });
