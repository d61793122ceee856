// Photos are made smaller on the phone before they are sent, one by one, with
// the progress shown. What could not be sent waits on the page and is tried
// again. The forms work without this module.
const side = 1600;
const quality = 0.8;
const waiting = []; // files not sent yet, with their captions

const strip = () => document.getElementById("photos");
const at = (name) => strip().querySelector(`[${name}]`);

function say(text, wrong = false) {
  const state = at("data-photo-state");
  state.textContent = text;
  state.classList.toggle("wrong", wrong);
}

// Upright, at most `side` pixels long, without what the camera wrote about
// place and time. What this browser cannot read goes out as it is: the server
// says what is wrong with it.
export async function shrink(file) {
  try {
    const image = await createImageBitmap(file, { imageOrientation: "from-image" });
    const scale = Math.min(1, side / Math.max(image.width, image.height));
    const scaled = (n) => Math.max(1, Math.round(n * scale));
    const canvas = new OffscreenCanvas(scaled(image.width), scaled(image.height));
    const pen = canvas.getContext("2d");
    pen.fillStyle = "#fff";
    pen.fillRect(0, 0, canvas.width, canvas.height);
    pen.imageSmoothingQuality = "high";
    pen.drawImage(image, 0, 0, canvas.width, canvas.height);
    image.close();
    return await canvas.convertToBlob({ type: "image/jpeg", quality });
  } catch {
    return file;
  }
}

function post(address, body) {
  return new Promise((resolve) => {
    const request = new XMLHttpRequest(); // fetch tells nothing of how far an upload has come
    const bar = strip().querySelector("progress");
    request.open("POST", address);
    request.setRequestHeader("Gaugebook-Part", "photos");
    request.setRequestHeader("Accept", "text/html");
    request.timeout = 240000;
    request.upload.onprogress = (e) => {
      if (!e.lengthComputable) return;
      bar.hidden = false;
      bar.value = (100 * e.loaded) / e.total;
    };
    request.onload = () => resolve({ status: request.status, text: request.responseText });
    request.onerror = request.ontimeout = request.onabort = () => resolve({ status: 0 });
    request.send(body);
  }).finally(() => (strip().querySelector("progress").hidden = true));
}

// Puts the answer in place of the strip; captions somebody is typing stay.
// Returns what went wrong, or "".
function show(answer) {
  if (answer.status === 0) return "no connection";
  if (answer.status === 401) return "you have been signed out. Sign in on this phone and come back here";
  const fresh = new DOMParser().parseFromString(answer.text || "", "text/html").getElementById("photos");
  if (!fresh) return `the server answered ${answer.status}`;
  const typed = [...strip().querySelectorAll("input[id][name=caption]")].filter((el) => el.value !== el.defaultValue);
  const focus = document.activeElement?.id;
  strip().replaceWith(fresh);
  for (const old of typed) {
    const now = document.getElementById(old.id);
    if (now && now.value === now.defaultValue && old.dataset.sent !== "1") now.value = old.value;
  }
  if (focus) document.getElementById(focus)?.focus({ preventScroll: true });
  prepare();
  return "";
}

let busy = false;
async function sendWaiting() {
  if (busy) return;
  busy = true;
  let sent = 0;
  while (waiting.length) {
    const { file, caption } = waiting[0];
    say(waiting.length > 1 ? `Sending, ${waiting.length} photos to go …` : "Sending the photo …");
    const body = new FormData();
    body.set("caption", caption);
    body.set("photo", await shrink(file), "photo.jpg");
    const form = at("data-photo-add");
    if (!form) {
      say("Not added: the record has the most photos it can have.", true);
      waiting.length = 0;
      break;
    }
    const answer = await post(form.action, body);
    const wrong = show(answer);
    if (wrong) {
      say(`Not sent: ${wrong}. The photo waits on this page; do not close it.`, true);
      again();
      break;
    }
    waiting.shift();
    if (answer.status >= 400) break;
    sent++;
  }
  busy = false;
  if (sent && !waiting.length && !strip().querySelector(".error")) {
    say(sent > 1 ? `${sent} photos added.` : "Photo added.");
  }
}

function again() {
  const b = document.createElement("button");
  Object.assign(b, { type: "button", className: "second", textContent: "Try again" });
  b.addEventListener("click", sendWaiting);
  at("data-photo-state").append(" ", b);
}

function prepare() {
  const add = at("data-photo-add");
  if (!add) return;
  at("data-photo-send").hidden = true; // choosing sends
  add.querySelector("#photo-file").multiple = true;
}

document.addEventListener("change", (e) => {
  if (!e.target.matches("[data-photo-add] input[type=file]")) return;
  const caption = e.target.form.elements.namedItem("caption");
  for (const file of e.target.files) waiting.push({ file, caption: caption.value });
  caption.value = "";
  e.target.value = "";
  sendWaiting();
});

document.addEventListener("submit", async (e) => {
  if (!e.target.closest("#photos")) return;
  e.preventDefault();
  if (e.target.matches("[data-photo-add]")) return;
  e.target.querySelector("input[name=caption]").dataset.sent = "1";
  const body = new URLSearchParams([...new FormData(e.target, e.submitter)]);
  const answer = await post(e.target.action, body);
  const wrong = show(answer);
  if (wrong) say(`Not saved: ${wrong}.`, true);
  else if (answer.status < 400) say(body.get("do") === "remove" ? "Photo removed." : "Caption saved.");
});

window.addEventListener("online", sendWaiting);
window.addEventListener("beforeunload", (e) => waiting.length && e.preventDefault());

prepare();
