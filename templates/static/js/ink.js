// A signature as pen strokes, written into the hidden field as
// "M x,y L x,y …" without spaces inside a point. The typed name is always the
// alternative, so the pad may need a pointer.
export function startInk(pad) {
  const svg = pad.querySelector("svg");
  const path = pad.querySelector(".ink");
  const field = pad.querySelector("input");
  const { width, height } = svg.viewBox.baseVal;
  const most = 20000;
  let last = null;

  pad.querySelector(".hint").textContent = "Sign with a finger or pen, or leave this blank: the typed name counts.";

  const at = (e) => {
    const box = svg.getBoundingClientRect();
    const along = (v, size, span) => Math.round(Math.min(Math.max((v / size) * span, 0), span));
    return [along(e.clientX - box.left, box.width, width), along(e.clientY - box.top, box.height, height)];
  };
  const put = (letter, [x, y]) => {
    const next = (path.getAttribute("d") + ` ${letter}${x},${y}`).trim();
    if (next.length > most) return;
    path.setAttribute("d", next);
    last = [x, y];
  };

  svg.addEventListener("pointerdown", (e) => {
    e.preventDefault();
    svg.setPointerCapture(e.pointerId);
    const p = at(e);
    put("M", p);
    put("L", p); // a dot is a stroke too
  });
  svg.addEventListener("pointermove", (e) => {
    if (!last) return;
    const p = at(e);
    if (Math.hypot(p[0] - last[0], p[1] - last[1]) >= 4) put("L", p);
  });
  const lift = () => {
    if (!last) return;
    last = null;
    keep(path.getAttribute("d"));
  };
  svg.addEventListener("pointerup", lift);
  svg.addEventListener("pointercancel", lift);

  const keep = (d) => {
    path.setAttribute("d", d);
    field.value = d;
    field.dispatchEvent(new Event("change", { bubbles: true }));
  };
  field.addEventListener("restored", () => path.setAttribute("d", field.value));

  const clear = document.createElement("button");
  clear.type = "button";
  clear.className = "second";
  clear.textContent = "Clear the signature";
  clear.addEventListener("click", () => keep(""));
  pad.append(clear);
}
