// While a list is being read: asks how far it has come, and shows the page
// again when it goes on to the next stage.
const box = document.querySelector("[data-list]");

async function look() {
  try {
    const answer = await fetch("/import/progress", { headers: { Accept: "application/json" } });
    if (!answer.ok) return location.reload(); // signed out in the meantime
    const now = await answer.json();
    if (now.stage !== box.dataset.list) return location.reload();
    const bar = box.querySelector("[data-bar]");
    if (now.rows > 0) {
      bar.max = now.rows;
      bar.value = now.done;
      box.querySelector("[data-told]").textContent = `${now.done} of ${now.rows} rows.`;
    }
  } catch {
    // No answer this time; the next one may come through.
  }
  setTimeout(look, 1000);
}

if (box) setTimeout(look, 500);
