// Follows the bench by server-sent events and shows each snapshot. Everything that comes in is put
// into the page as text, never as HTML.
"use strict";

const SILENCE_MS = 8000; // The bench sends something every 3 s.
const AGAIN_MS = 2000;
const WORDS = {
  starting: ["Starting", "connecting"],
  listening: ["Listening", "listening"],
  speaking: ["Speaking", "speaking"],
  "standing by": ["Standing by", "pause"],
  "cannot hear": ["Cannot hear", "cannot"],
  "cannot record": ["Cannot record", "cannot"],
  "job closed": ["Job closed", "stop"],
  stopped: ["Stopped", "stop"],
};
const CUES = {
  recorded: ["Recorded", "recorded"],
  question: ["Question", "question"],
  refused: ["Not done", "refused"],
  timer: ["Timer is up", "timer"],
  alert: ["Attention", "lost"],
  "not taken": ["Not taken", "refused"],
  "not recorded": ["Not recorded", "cannot"],
};
const MOST_TIMERS = 4;

const at = (id) => document.getElementById(id);
let offset = 0; // From this clock to the bench's, in ms.
let shown = null;
let source = null;
let lastSign = 0;
let lostSince = null;

function make(tag, text, name) {
  const element = document.createElement(tag);
  if (name) element.className = name;
  if (text !== undefined) element.textContent = text;
  return element;
}

function mark(name) {
  const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  svg.setAttribute("class", "mark");
  svg.setAttribute("aria-hidden", "true");
  const use = document.createElementNS("http://www.w3.org/2000/svg", "use");
  use.setAttribute("href", `#mark-${name}`);
  svg.append(use);
  return svg;
}

function fill(list, items) {
  list.replaceChildren(...items);
  list.hidden = !items.length;
}

const texts = (items) => items.map((text) => make("li", text));

// What a snapshot looks like

function show(snapshot) {
  shown = snapshot;
  offset = snapshot.now - Date.now();
  const [word, name] = WORDS[snapshot.status];
  at("status").dataset.status = snapshot.status;
  at("status").querySelector("use").setAttribute("href", `#mark-${name}`);
  at("word").textContent = word;
  at("hint").textContent = snapshot.hint;
  document.body.classList.toggle("empty", !snapshot.step);
  at("job").textContent = "";
  if (snapshot.step) {
    showJob(snapshot.job);
    showStep(snapshot.step);
    showFocus(snapshot.focus);
    showJoints(snapshot.step.joints);
    fill(at("left").querySelector("ul"), texts(snapshot.outstanding));
    at("left").hidden = !snapshot.outstanding.length;
    fill(at("customer").querySelector("ul"), texts(snapshot.customer));
    at("customer").hidden = !snapshot.customer.length;
    showFailures(snapshot);
    showTimers(snapshot.timers);
  }
  fill(at("talk").querySelector("ol"), snapshot.exchanges.map(exchange));
  count();
  fit();
}

function showJob(job) {
  const sample = job.sample ? "sample, not to be worked from" : "";
  const parts = [`Job ${job.number}`, job.title, job.unit, job.by, sample];
  at("job").textContent = parts.filter(Boolean).join(" · ");
  document.title = `${shown.step.number} of ${shown.step.of} · ${job.title}`;
}

function showStep(step) {
  at("number").replaceChildren(
    make("span", "Step ", "soft"),
    make("b", step.number),
    make("span", ` of ${step.of}`, "soft"),
    make("span", step.stage, "stage"),
  );
  if (step.note) at("number").append(make("span", step.note, "note"));
  at("say").textContent = step.say;
  fill(at("hazards"), step.hazards.map(([signal, say]) => {
    const item = make("li");
    item.append(make("strong", signal, signal), make("span", say));
    return item;
  }));
}

function showFocus(focus) {
  at("focus").dataset.kind = focus.kind;
  at("label").textContent = focus.label;
  at("value").textContent = focus.figure;
  at("unit").textContent = focus.unit;
  at("figure").hidden = !focus.figure && !focus.due;
  fill(at("choices"), texts(focus.choices));
  fill(at("notes"), focus.notes.map((note) => make("li", note, note === focus.locker ? "strong" : "")));
}

function showJoints(joints) {
  at("joints").hidden = joints.length < 2 && !(joints.length && shown.focus.kind !== "torque");
  fill(at("joints").querySelector("ul"), joints.map((joint) => {
    const item = make("li", undefined, joint.done ? "done" : "");
    if (joint.done) item.append(mark("recorded"), make("span", "recorded: ", "hidden"));
    item.append(make("span", joint.fastener), make("b", joint.torque));
    item.append(make("span", joint.locker, joint.strong ? "strong" : ""));
    return item;
  }));
}

function showFailures(snapshot) {
  const open = snapshot.fails === 1 ? "1 result fails" : `${snapshot.fails} results fail`;
  at("failing").replaceChildren(mark("cannot"), make("span", snapshot.holds ? `${open}, and this step is held` : open));
  fill(at("fails").querySelector("ul"), texts(snapshot.failures));
  at("fails").hidden = !snapshot.fails;
}

function showTimers(timers) {
  const items = timers.slice(0, MOST_TIMERS).map(([name, due]) => {
    const item = make("li");
    const time = make("b", "", "count");
    time.dataset.due = due;
    item.append(mark("timer"), make("span", name), time);
    return item;
  });
  if (timers.length > MOST_TIMERS) {
    items.push(make("li", `and ${timers.length - MOST_TIMERS} more`, "more"));
  }
  fill(at("timers").querySelector("ul"), items);
  at("timers").hidden = !items.length;
}

function exchange(one, number) {
  const item = make("li", undefined, number ? "before" : "latest");
  if (one.heard) {
    const heard = make("p", undefined, "heard");
    heard.append(mark("heard"), make("span", "Heard", "soft"), make("q", one.heard));
    item.append(heard);
  }
  const cues = make("p", undefined, "cues");
  for (const cue of one.cues) {
    const [word, name] = CUES[cue];
    const chip = make("strong", undefined, "cue");
    chip.dataset.cue = cue;
    chip.append(mark(name), make("span", word));
    cues.append(chip);
  }
  if (one.cues.length) item.append(cues);
  const said = one.reply || one.why;
  if (said && !(number && one.heard)) item.append(make("p", said, "reply"));
  return item;
}

// Time left

function count() {
  if (!shown) return;
  const now = Date.now() + offset;
  for (const element of document.querySelectorAll("[data-due]")) {
    element.textContent = left(element.dataset.due - now);
    element.classList.toggle("up", element.dataset.due <= now);
  }
  if (shown.focus && shown.focus.due) at("value").textContent = left(shown.focus.due - now);
}

function left(ms) {
  if (ms <= 0) return "up";
  const s = Math.ceil(ms / 1000);
  const pad = (number) => String(number).padStart(2, "0");
  const h = Math.floor(s / 3600);
  const min = Math.floor(s / 60) % 60;
  if (h >= 48) return `${Math.floor(h / 24)} d ${h % 24} h`;
  return h ? `${h} h ${pad(min)}` : `${min}:${pad(s % 60)}`;
}

// Text as large as its place allows. Where a page scrolls (a small window, or one that was
// zoomed) sizes are the style sheet's, so that zooming works.

function fit() {
  const [doing, asked, figure, talk] = ["doing", "asked", "figure", "talk"].map(at);
  for (const element of [doing, asked, figure, talk]) element.style.fontSize = "";
  if (!matchMedia("(min-width: 62rem) and (min-height: 36rem)").matches) return;
  largest(talk, talk, 1.6, document.body.classList.contains("empty") ? 8 : 4.2);
  largest(doing, doing, 1.6, 7);
  // The figure has the room first; then the words round it take what is left.
  const least = at("focus").dataset.kind === "torque" ? 18.5 : 10;
  const fits = [3.2, 2.6, 2.1, 1.7].some((words) => {
    asked.style.fontSize = `${words}vh`;
    return largest(figure, asked, least, 42);
  });
  if (!fits) largest(figure, asked, 6, least);
  largest(asked, asked, 1.7, 5);
}

// Gives an element the largest font size, in vh, at which a box holds what is in it. The last
// line's empty descent may stand out of it.
function largest(element, box, least, most) {
  const holds = (size) => {
    element.style.fontSize = `${size}vh`;
    return box.scrollHeight <= box.clientHeight + 4 && !wide(box);
  };
  if (!holds(least)) return false;
  let [good, bad] = [least, most];
  if (holds(most)) return true;
  while (bad - good > 0.15) {
    const middle = (good + bad) / 2;
    if (holds(middle)) good = middle;
    else bad = middle;
  }
  holds(good);
  return true;
}

function wide(box) {
  return [box, ...box.querySelectorAll("section, p")].some((one) => one.scrollWidth > one.clientWidth + 1);
}

// The connection

function connect() {
  if (source) source.close();
  source = new EventSource("events");
  source.addEventListener("snapshot", (event) => {
    sign();
    show(JSON.parse(event.data));
  });
  source.addEventListener("beat", (event) => {
    sign();
    offset = event.data - Date.now();
  });
  source.addEventListener("version", (event) => {
    if (event.data !== document.body.dataset.version) location.reload();
  });
  source.onerror = () => {
    lost();
    // It tries again by itself, but not where it got an answer that is none.
    if (source.readyState !== EventSource.CLOSED) return;
    askWhy();
    setTimeout(connect, AGAIN_MS);
  };
}

function sign() {
  lastSign = Date.now();
  if (!lostSince) return;
  lostSince = null;
  at("lost").hidden = true;
  document.body.classList.remove("old");
  fit();
}

function lost() {
  if (lostSince) return;
  lostSince = new Date();
  document.body.classList.add("old");
  const since = lostSince.toLocaleTimeString("en-GB");
  const what = shown && ["stopped", "job closed"].includes(shown.status)
    ? `The assistant was stopped at ${since}. Waiting for it to go on.`
    : `No connection to the bench since ${since}. Trying again.`;
  at("lost").textContent = shown ? `${what} What is shown is old.` : what;
  at("lost").hidden = false;
  fit();
}

// A bench that was started again without a token of its own has made another.
async function askWhy() {
  const answer = await fetch("", { cache: "no-store" }).catch(() => null);
  if (answer && answer.status === 401) {
    at("lost").textContent = "The bench has a new link. Open this page by it. What is shown is old.";
  }
}

setInterval(() => {
  count();
  if (lastSign && Date.now() - lastSign > SILENCE_MS) {
    lost();
    lastSign = Date.now();
    connect();
  }
}, 250);
// Nobody is to touch it, so it is not to go dark; browsers allow that on this computer or with TLS.
function stayAwake() {
  if (!document.hidden) navigator.wakeLock?.request("screen").catch(() => null);
}

addEventListener("visibilitychange", stayAwake);
stayAwake();
addEventListener("resize", fit);
connect();
