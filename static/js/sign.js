// The box to draw in: strokes as whole numbers in a 600 × 160 field, kept as one path of M and L.
const form = document.querySelector("[data-sign]");
if (form) {
  const box = form.querySelector("[data-sign-box]");
  const canvas = form.querySelector("[data-sign-canvas]");
  const kept = form.querySelector("[data-sign-path]");
  const pen = canvas.getContext("2d");
  let strokes = [];
  let stroke = null;

  const point = (event) => {
    const frame = canvas.getBoundingClientRect();
    const x = Math.round(((event.clientX - frame.left) / frame.width) * 600);
    const y = Math.round(((event.clientY - frame.top) / frame.height) * 160);
    return [Math.min(Math.max(x, 0), 600), Math.min(Math.max(y, 0), 160)];
  };
  const draw = () => {
    pen.clearRect(0, 0, 600, 160);
    pen.lineWidth = 3;
    pen.lineCap = pen.lineJoin = "round";
    pen.strokeStyle = "#0b1220";
    for (const points of strokes) {
      pen.beginPath();
      points.forEach(([x, y], i) => (i ? pen.lineTo(x, y) : pen.moveTo(x, y)));
      pen.stroke();
    }
    kept.value = strokes
      .filter((points) => points.length > 1)
      .map((points) => points.map(([x, y], i) => `${i ? "L" : "M"}${x} ${y}`).join(""))
      .join("");
  };
  const restore = () => {
    strokes = (kept.value.match(/M[^M]+/g) || []).map((text) =>
      text.slice(1).split("L").map((pair) => pair.split(" ").map(Number)),
    );
    draw();
  };
  const show = () => {
    const chosen = form.querySelector("input[name=acknowledgement_kind]:checked");
    box.hidden = !chosen || chosen.value !== "drawn";
  };

  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    stroke = [point(event)];
    strokes.push(stroke);
  });
  canvas.addEventListener("pointermove", (event) => {
    if (!stroke) return;
    const [x, y] = point(event);
    const [px, py] = stroke[stroke.length - 1];
    if (Math.hypot(x - px, y - py) >= 2) {
      stroke.push([x, y]);
      draw();
    }
  });
  for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, () => (stroke = null));
  form.querySelector("[data-sign-clear]").addEventListener("click", () => {
    strokes = [];
    draw();
  });
  form.addEventListener("change", show);
  restore();
  show();
}
