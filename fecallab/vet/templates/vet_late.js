/* What needs the whole page: the answer and the pictures, each by itself, so that one can fail alone. */
function late() {
  startAnswer();
  if (typeof SVGElement === "function" && window.PointerEvent) startViewer();
}
if (document.readyState === "loading") document.addEventListener("DOMContentLoaded", late); else late();
