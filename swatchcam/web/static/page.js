"use strict";
// Everything works without this; with it, uploads show how far they are and survive a lost connection,
// a photo that is being measured tells when it is done, and ticks are noted at once.
document.documentElement.classList.add("with-script");

const MOST = 200e6; // bytes; the computer takes no more at once
const SILENCE = 60e3; // ms
const WAITS = [1000, 2000, 4000, 8000, 15000]; // ms before an upload is sent again

function freshKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

function tell(form, words) {
  form.querySelector("[data-told]").textContent = words;
}

function send(form, tries) {
  const bar = form.querySelector("progress");
  const request = new XMLHttpRequest();
  request.open("POST", form.action);
  request.setRequestHeader("Accept", "application/json");
  // A line that died without a word would hang for ever: it is given up after a while of silence, and tried again.
  let silence = 0;
  const heard = () => {
    clearTimeout(silence);
    silence = setTimeout(() => request.abort(), SILENCE);
  };
  heard();
  request.upload.onprogress = (event) => {
    heard();
    if (event.lengthComputable) {
      bar.value = event.loaded / event.total;
      tell(form, event.loaded < event.total ? `Sending, ${Math.round(100 * bar.value)} %` : "Sent; waiting for the studio's computer …");
    }
  };
  request.onload = () => {
    clearTimeout(silence);
    if (request.status < 400) {
      location.assign(request.responseURL);
      return;
    }
    let said = {};
    try {
      said = JSON.parse(request.responseText);
    } catch {
      said = { problem: "The studio's computer refused it.", next: "Load this page again, and try once more." };
    }
    tell(form, `${said.problem} ${said.next}`);
    ready(form);
  };
  request.onabort = request.onerror = () => {
    clearTimeout(silence);
    if (tries < WAITS.length) {
      tell(form, "The connection was lost. It is tried again by itself; nothing is stored twice.");
      setTimeout(() => send(form, tries + 1), WAITS[tries]);
    } else {
      tell(form, "The connection was lost. Go nearer to the router and press the button again; nothing is stored twice.");
      ready(form);
    }
  };
  request.send(new FormData(form));
}

function ready(form) {
  form.querySelector("button").disabled = false;
  form.querySelector("progress").hidden = true;
}

for (const form of document.querySelectorAll("form[data-upload]")) {
  // Other photos are another upload: the same key would bring the first one's answer.
  form.addEventListener("change", () => { form.elements.key.value = freshKey(); });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const files = [...form.querySelectorAll("input[type=file]")].flatMap((input) => [...input.files]);
    if (files.reduce((sum, file) => sum + file.size, 0) > MOST) {
      tell(form, "These photos are too large together. Send fewer at once.");
      return;
    }
    form.querySelector("button").disabled = true;
    const bar = form.querySelector("progress");
    bar.hidden = false;
    bar.value = 0;
    tell(form, "Sending …");
    send(form, 0);
  });
}

// A page that comes back from the browser's memory holds a button that is still at work.
addEventListener("pageshow", (event) => {
  if (event.persisted) {
    document.querySelectorAll("form[data-upload]").forEach(ready);
    document.querySelectorAll("form[data-sent]").forEach((form) => delete form.dataset.sent);
  }
});

// A second tap on a button that is at work would send the form again.
for (const form of document.querySelectorAll("form[method=post]:not([data-upload])")) {
  form.addEventListener("submit", (event) => {
    if (form.dataset.sent) {
      event.preventDefault();
    }
    form.dataset.sent = "yes";
  });
}

async function watch(place) {
  for (;;) {
    await new Promise((done) => setTimeout(done, 500));
    try {
      const answer = await fetch(place.dataset.watch, { headers: { Accept: "application/json" } });
      if (!answer.ok) {
        location.reload();
        return;
      }
      const now = await answer.json();
      if (now.state !== "waiting") {
        location.reload();
        return;
      }
      if (place.textContent !== now.words) {
        place.textContent = now.words;
      }
    } catch {
      place.textContent = "The studio's computer does not answer. This page goes on as soon as it does.";
    }
  }
}

for (const place of document.querySelectorAll("[data-watch]")) {
  watch(place);
}

// What was changed here goes alone: another phone may have ticked other boxes of the same list meanwhile.
async function note(form, changed) {
  const told = form.querySelector("[data-told]");
  try {
    for (const [step, ticked] of [...changed]) {
      const body = new URLSearchParams({ token: form.elements.token.value, choice: form.elements.choice.value, step, ticked });
      const answer = await fetch(form.action, { method: "POST", body, headers: { Accept: "application/json" } });
      if (!answer.ok) {
        told.textContent = "Not noted: load this page again.";
        return;
      }
      if (changed.get(step) === ticked) {
        changed.delete(step);
      }
      show(form, (await answer.json()).ticks, changed);
    }
    told.textContent = "Noted.";
  } catch {
    told.textContent = "Not noted: the studio's computer does not answer. The next tick sends this one too.";
  }
}

function show(form, ticks, changed) {
  for (const box of form.querySelectorAll("[name=tick]")) {
    box.checked = changed.has(box.value) ? changed.get(box.value) !== "" : ticks.includes(box.value);
  }
}

for (const form of document.querySelectorAll("form[data-ticks]")) {
  const changed = new Map(); // box -> "yes" or "", until it is noted
  // One after the other: of two at once the earlier might arrive last.
  let last = Promise.resolve();
  form.addEventListener("change", (event) => {
    changed.set(event.target.value, event.target.checked ? "yes" : "");
    last = last.then(() => note(form, changed));
  });
}

for (const button of document.querySelectorAll("[data-print]")) {
  button.addEventListener("click", () => print());
}
// The style sheet opens what is folded for print; browsers from before 2025 need this for the cautions.
const folded = document.querySelectorAll("details.care:not([open])");
addEventListener("beforeprint", () => folded.forEach((each) => { each.open = true; }));
addEventListener("afterprint", () => folded.forEach((each) => { each.open = false; }));
