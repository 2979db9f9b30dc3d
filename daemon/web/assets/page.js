// Keeps a page up to date: regions come as HTML from our own server, which has escaped them.
import { morph } from "./morph.js";
import { listen } from "./link.js";

const root = document.documentElement;
const say = document.getElementById("say");
const seconds = document.getElementById("seconds");
const bars = { lost: document.getElementById("bar-lost"), stale: document.getElementById("bar-stale") };
let said = "";
let shown = ""; // state, as it was told last

function set(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

// speak tells a screen reader the next step, once, without figures that move.
function speak(text) {
  if (text && text !== said) {
    said = text;
    set(say, text);
  }
}

function show(state, age) {
  if (shown !== state) {
    root.dataset.state = state;
    if (bars[state]) speak(bars[state].dataset.text.replace("{}", "2"));
    else if (bars[shown]) speak(say.dataset.back);
    shown = state;
  }
  const whole = String(Math.max(0, Math.floor(age)));
  set(seconds, state === "none" ? "" : seconds.dataset.text.replace("{}", whole));
  if (bars[state]) set(bars[state], bars[state].dataset.text.replace("{}", whole));
}

function update(event) {
  if (event.build !== root.dataset.build) {
    location.reload();
    return;
  }
  for (const [name, html] of Object.entries(event.regions ?? {})) {
    const region = document.getElementById("region-" + name);
    if (region) morph(region, html);
  }
  const headline = document.querySelector("[data-say]");
  if (headline && root.dataset.state !== "lost" && root.dataset.state !== "stale") speak(headline.dataset.say);
}

const query = new URLSearchParams({ page: document.body.dataset.page });
const lang = new URLSearchParams(document.body.dataset.query).get("lang");
query.set("lang", lang ?? root.lang);
if (document.body.dataset.channel) query.set("channel", document.body.dataset.channel);
if (document.querySelector("[id^=region-]")) listen("/api/stream?" + query, show, update);
