// Passkeys: has the browser sign what the server asks, puts that into the form
// and sends it. Without script, or where no passkey can work, the form is hidden.
const known = window.PublicKeyCredential;
const can = known && known.parseCreationOptionsFromJSON && known.parseRequestOptionsFromJSON;

async function ask(form) {
  const answer = await fetch(`${form.getAttribute("action")}/options`, {
    method: "POST",
    headers: { Accept: "application/json", "Gaugebook-Part": "passkey" },
  });
  if (answer.status === 401) { // the proof of who it is has grown old
    location.href = `/confirm?next=${encodeURIComponent(location.pathname)}`;
    return null;
  }
  const given = await answer.json();
  if (!answer.ok) throw new Error(given.detail || given.title);
  return given;
}

async function sign(form) {
  const given = await ask(form);
  if (!given) return;
  const key = "make" in form.dataset
    ? await navigator.credentials.create({ publicKey: known.parseCreationOptionsFromJSON(given) })
    : await navigator.credentials.get({ publicKey: known.parseRequestOptionsFromJSON(given) });
  form.elements.namedItem("credential").value = JSON.stringify(key);
  HTMLFormElement.prototype.submit.call(form);
}

// words says what went wrong. A browser gives one name to a cancel, a time-out
// and a device without a lock, so that no page learns which.
function words(error) {
  if (error.name === "InvalidStateError") return "This device has a passkey for your account already.";
  if (error instanceof DOMException) return "No passkey was used. Try again, or use another way.";
  if (error instanceof TypeError) return "The server could not be reached. Try again.";
  return error.message;
}

for (const form of document.querySelectorAll("form[data-passkey]")) {
  const host = form.dataset.passkey;
  if (!can || !host || (location.hostname !== host && !location.hostname.endsWith(`.${host}`))) continue;
  form.hidden = false;
  for (const other of document.querySelectorAll("[data-no-passkey]")) other.hidden = true;
  const said = form.querySelector("[data-said]");
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    said.hidden = true;
    try {
      await sign(form);
    } catch (error) {
      said.textContent = words(error);
      said.hidden = false;
    }
  });
}
