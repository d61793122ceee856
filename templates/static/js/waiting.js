// On the overview of drafts: names the sections whose entries still wait on
// this phone.
import { waiting } from "./kept.js";

const box = document.querySelector("[data-waiting]");
const paths = waiting();
if (box && paths.length) {
  const list = document.createElement("ul");
  for (const p of paths) {
    const a = document.createElement("a");
    a.href = p;
    a.textContent = "Open " + p.split("/").pop();
    const li = document.createElement("li");
    li.append(a);
    list.append(li);
  }
  box.append(list);
  box.hidden = false;
}
