// Number keypads of phones have no minus. A field that may be negative gets a
// key of its own for it, and then the number keypad.
export function signKeys(form) {
  form.querySelectorAll("input[data-signed]").forEach((input) => {
    const key = document.createElement("button");
    key.type = "button";
    key.className = "sign";
    key.textContent = "±";
    key.setAttribute("aria-label", "Change the sign");
    key.addEventListener("click", () => {
      const v = input.value.trim();
      input.value = v.startsWith("-") ? v.slice(1) : "-" + v;
      input.focus();
      if (v) input.dispatchEvent(new Event("change", { bubbles: true }));
    });
    input.before(key);
    input.inputMode = "decimal";
  });
}
