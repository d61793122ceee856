// Hides a field while the answer that it depends on is another one. The field
// keeps its entry: the server does not look at it while it is not shown.
export function showConditions(form) {
  const fields = [...form.querySelectorAll("[data-when-key]")];
  fields.forEach((f) => f.querySelector(".when")?.remove());
  const show = () => {
    const data = new FormData(form);
    for (const f of fields) {
      // An answer given in another section is not in this form; then the
      // field stays in view.
      const key = f.dataset.whenKey;
      if (data.has(key)) f.hidden = !f.dataset.whenIn.split(" ").includes(data.get(key));
    }
  };
  form.addEventListener("change", show);
  form.addEventListener("restored", show);
  show();
}
