// Keeps a page of the board as the journal is: asks now and then whether anything was added, and
// puts what is new in place of what is shown, without moving the reader or stopping a clip.
"use strict";

const AGAIN_MS = 4000;
const { ask } = document.currentScript.dataset;
let { version } = document.currentScript.dataset;
let since = null;

async function look() {
  if (document.hidden || playing()) return;
  try {
    const answer = await fetch(ask, { cache: "no-store" });
    if (!answer.ok) throw new Error(answer.statusText);
    if ((await answer.text()) !== version) await renew();
    since = null;
  } catch {
    since ??= new Date().toLocaleTimeString("en-GB");
  }
  tell(since ? `No connection to the board since ${since}. What is shown may be old.` : "");
}

function playing() {
  return [...document.querySelectorAll("audio")].some((audio) => !audio.paused);
}

function tell(text) {
  const place = document.getElementById("stale");
  if (place.textContent !== text) place.textContent = text;
}

async function renew() {
  const answer = await fetch(location.href, { cache: "no-store" });
  if (!answer.ok) throw new Error(answer.statusText);
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const focused = document.activeElement.id;
  const place = reachable().indexOf(document.activeElement);
  for (const part of ["body > header", "main", ".bar ul"]) {
    const [before, after] = [document.querySelector(part), page.querySelector(part)];
    if (before && after) before.replaceWith(after);
  }
  if (document.activeElement === document.body && place >= 0) {
    const same = focused ? document.getElementById(focused) : reachable()[place];
    same?.focus({ preventScroll: true });
  }
  version = page.querySelector("script[data-version]").dataset.version;
}

function reachable() {
  return [...document.querySelectorAll("main a, main audio, main [tabindex]")];
}

setInterval(look, AGAIN_MS);
addEventListener("visibilitychange", look);
