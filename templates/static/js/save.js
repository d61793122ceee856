// Saves the form as it is filled in and puts the fresh findings in place. What
// cannot be sent is kept on this phone and offered again.
import { keep, kept, forget } from "./kept.js";
import { addRow } from "./rows.js";

const time = (d) => d.toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });

export function keepSaving(form) {
  const path = new URL(form.action).pathname;
  const state = form.querySelector("[data-state]");
  const revision = form.elements.namedItem("revision");
  let timer = 0;
  let running = null;
  let dirty = false;

  const say = (text, wrong = false) => {
    state.textContent = text;
    state.classList.toggle("wrong", wrong);
  };
  const pairs = () => [...new FormData(form)].filter(([k, v]) => k !== "revision" && typeof v === "string");

  const keepHere = (why) => {
    try {
      keep(path, revision.value, pairs());
      say(`Not saved: ${why}. Kept on this phone ${time(new Date())}.`, true);
    } catch {
      say(`Not saved: ${why}, and this phone has no room to keep it. Do not close this page.`, true);
    }
    return false;
  };

  // Resolves to true when everything typed so far is saved.
  const save = async () => {
    clearTimeout(timer);
    if (running) await running;
    dirty = false;
    const body = new URLSearchParams([...pairs(), ["revision", revision.value]]);
    say("Saving …");
    let answer;
    try {
      const headers = { Accept: "text/html", "Gaugebook-Part": "section" };
      answer = await fetch(path, { method: "POST", body, headers, redirect: "manual" });
    } catch {
      return keepHere("no connection");
    }
    if (answer.status === 409) {
      keepHere("this section was changed somewhere else. Press Save to compare");
      return "conflict";
    }
    if (answer.status === 401) return keepHere("you have been signed out. Sign in on this phone and come back here");
    if (!answer.ok && answer.status !== 422) return keepHere(`the server answered ${answer.status}`);
    show(form, new DOMParser().parseFromString(await answer.text(), "text/html"));
    forget(path);
    if (!dirty) say(`Saved ${time(new Date())}`);
    return true;
  };
  const run = () => (running = save().finally(() => (running = null)));

  form.addEventListener("change", () => {
    dirty = true;
    clearTimeout(timer);
    timer = setTimeout(run, 400);
  });
  form.addEventListener("submit", async (e) => {
    if (e.submitter?.dataset.goto === undefined) return;
    e.preventDefault();
    const done = await run();
    // On a conflict the plain form goes out, and the answer is the page that
    // shows both versions.
    if (done === "conflict") form.submit();
    else if (done) location.assign(e.submitter.dataset.goto || location.href);
  });
  window.addEventListener("online", () => (dirty || kept(path)) && run());
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "hidden" && dirty) run();
  });
  window.addEventListener("pagehide", () => dirty && keepHere("the page was left"));

  offer(form, path, revision, run);
}

// Takes errors, findings, progress and the revision from a fresh page. Fields
// are left alone: somebody may be typing in them.
function show(form, fresh) {
  for (const now of document.querySelectorAll("[data-live]")) {
    const next = fresh.getElementById(now.id);
    if (!next) continue;
    const open = new Set([...now.querySelectorAll("details[open]")].map((d) => d.closest("[id]")?.id));
    if (now.innerHTML !== next.innerHTML) now.replaceChildren(...next.childNodes);
    now.querySelectorAll("details").forEach((d) => (d.open = open.has(d.closest("[id]")?.id)));
    const field = now.parentElement.matches(".field, .cell") ? now.parentElement : null;
    if (!field) continue;
    const bad = Boolean(now.querySelector(".error"));
    field.classList.toggle("bad", bad);
    for (const el of field.querySelectorAll("input, select, textarea")) {
      if (bad) el.setAttribute("aria-invalid", "true");
      else el.removeAttribute("aria-invalid");
    }
  }
  const revision = fresh.querySelector("input[name=revision]");
  if (revision) form.elements.namedItem("revision").value = revision.value;
}

// Offers what an earlier visit to this section could not send.
function offer(form, path, revision, save) {
  const found = kept(path);
  if (!found) return;
  const box = document.createElement("div");
  box.className = "restore";
  box.setAttribute("role", "alert");
  const text = document.createElement("p");
  const at = new Date(found.at);
  const day = at.toLocaleDateString("en-GB");
  text.textContent = `Entries from ${day}, ${time(at)} are on this phone and were never sent.`;
  const button = (textContent, className = "") =>
    Object.assign(document.createElement("button"), { type: "button", className, textContent });
  const put = button("Restore them and save");
  const drop = button("Discard them", "second");
  const go = document.createElement("p");
  go.className = "go";
  go.append(put, drop);
  box.append(text, go);
  form.before(box);
  put.addEventListener("click", () => {
    fill(form, found.pairs);
    // With the revision they were typed against, the server notices when
    // somebody else has saved in between.
    revision.value = found.revision;
    box.remove();
    save();
  });
  drop.addEventListener("click", () => {
    forget(path);
    box.remove();
  });
}

function fill(form, pairs) {
  for (const [name, value] of pairs) {
    const row = name.match(/^(.+)\[(\d+)\]\./);
    while (row && !form.elements.namedItem(name)) {
      const list = form.querySelector(`[data-rows="${CSS.escape(row[1])}"]`);
      if (!list || !addRow(list)) break;
    }
    const el = form.elements.namedItem(name);
    if (!el) continue;
    el.value = value;
    if (el instanceof HTMLElement) el.dispatchEvent(new Event("restored"));
  }
  form.dispatchEvent(new Event("restored"));
}
