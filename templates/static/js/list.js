// Keys for the office's lists: down and up (or j and k) go from customer to
// customer, space chooses. Without script, Tab does.
const typing = (el) => el.matches("input:not([type=checkbox]), select, textarea");

document.addEventListener("keydown", (e) => {
  const step = { ArrowDown: 1, j: 1, ArrowUp: -1, k: -1 }[e.key];
  if (!step || e.ctrlKey || e.metaKey || e.altKey || typing(e.target)) return;
  const groups = [...document.querySelectorAll("[data-list] tbody")];
  const stops = groups.map((g) => g.querySelector("input[type=checkbox], a")).filter(Boolean);
  const here = stops.findIndex((s) => s.closest("tbody").contains(document.activeElement));
  if (here < 0 && step < 0) return;
  const next = stops[here + step];
  if (!next) return;
  e.preventDefault();
  next.focus();
});

// One box that chooses every customer on the page.
for (const place of document.querySelectorAll("[data-all-here]")) {
  const boxes = () => [...place.closest("table").querySelectorAll("tbody input[type=checkbox]")];
  const all = document.createElement("input");
  all.type = "checkbox";
  all.setAttribute("aria-label", "Choose every customer on this page");
  all.addEventListener("change", () => boxes().forEach((b) => (b.checked = all.checked)));
  place.append(all);
}
