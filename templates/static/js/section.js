// The form of one section: what script adds to a page that works without it.
import { showConditions } from "./when.js";
import { growRows } from "./rows.js";
import { startInk } from "./ink.js";
import { keepSaving } from "./save.js";
import { signKeys } from "./sign.js";

const form = document.querySelector("form[data-section]");
if (form) {
  signKeys(form);
  growRows(form);
  form.querySelectorAll("[data-ink]").forEach(startInk);
  showConditions(form);
  if (!("plain" in form.dataset)) keepSaving(form);
}
