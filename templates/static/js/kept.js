// Section forms that could not be sent, kept on this phone per person and
// section until they are. A phone without room for them must say so.
const person = document.body.dataset.person || "";
const keyOf = (path) => `gaugebook unsent ${person} ${path}`;

export function keep(path, revision, pairs) {
  const entry = { at: new Date().toISOString(), revision, pairs };
  localStorage.setItem(keyOf(path), JSON.stringify(entry));
}

export function kept(path) {
  try {
    return JSON.parse(localStorage.getItem(keyOf(path)));
  } catch {
    return null;
  }
}

export function forget(path) {
  localStorage.removeItem(keyOf(path));
}

// All sections of this person that wait, as paths.
export function waiting() {
  const start = keyOf("");
  return Object.keys(localStorage).filter((k) => k.startsWith(start)).map((k) => k.slice(start.length));
}
