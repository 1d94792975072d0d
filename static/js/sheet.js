// Enter goes down to the next cylinder, as in a column of figures; an instrument that types its figure and Enter fills
// the column by itself. Without this script Enter keeps what is typed so far.
document.addEventListener("keydown", (event) => {
  const field = event.target;
  if (event.key !== "Enter" || event.isComposing || !(field instanceof HTMLInputElement)) return;
  const here = /^c(\d+)-([1-9])$/.exec(field.name);
  if (!here) return;
  event.preventDefault();
  const column = [...field.form.querySelectorAll(".reading-peaks input")].filter((other) => other.name.endsWith(`-${here[2]}`));
  const next = column[column.indexOf(field) + 1] ?? document.querySelector(".actions .button--main");
  next.focus();
  if (next instanceof HTMLInputElement) next.select();
});
