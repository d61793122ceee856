// One more row on request. Rows are numbered in the names of their fields;
// the server closes up what is left blank.
export function growRows(form) {
  form.querySelectorAll("[data-rows]").forEach((list) => {
    const add = button("Add row");
    add.addEventListener("click", () => addRow(list)?.querySelector("input, select")?.focus());
    list.append(add);
    list.querySelectorAll(".row").forEach(clearable);
    full(list);
  });
}

export function addRow(list) {
  const n = list.querySelectorAll(".row").length;
  if (n >= Number(list.dataset.max)) return null;
  const blank = list.querySelector("template").content.cloneNode(true);
  const number = (text, by) => text.replaceAll("#", by);
  blank.querySelectorAll("*").forEach((el) => {
    for (const a of [...el.attributes]) if (a.value.includes("#")) el.setAttribute(a.name, number(a.value, n));
  });
  const legend = blank.querySelector("legend");
  legend.textContent = number(legend.textContent, n + 1);
  const rows = list.querySelectorAll(".row");
  const row = blank.querySelector(".row");
  if (rows.length) rows[rows.length - 1].after(row);
  else list.querySelector("template").before(row);
  clearable(row);
  full(list);
  return row;
}

function full(list) {
  const add = list.lastElementChild;
  add.hidden = list.querySelectorAll(".row").length >= Number(list.dataset.max);
}

function clearable(row) {
  const clear = button("Clear " + row.querySelector("legend").textContent.toLowerCase());
  clear.className = "plain";
  clear.addEventListener("click", () => {
    row.querySelectorAll("input, select").forEach((el) => (el.value = ""));
    row.dispatchEvent(new Event("change", { bubbles: true }));
  });
  row.append(clear);
}

function button(text) {
  const b = document.createElement("button");
  b.type = "button";
  b.className = "second";
  b.textContent = text;
  return b;
}
