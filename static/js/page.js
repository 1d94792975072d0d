// Small helps; every page works without them.
const problem = document.getElementById("problem");
if (problem) problem.focus();

// From the summary to the field itself, not only to its place on the page.
document.addEventListener("click", (event) => {
  const link = event.target.closest(".problem-list a");
  const field = link && document.getElementById(decodeURIComponent(link.hash.slice(1)));
  if (!field) return;
  event.preventDefault();
  field.focus();
});

document.addEventListener("click", (event) => {
  if (event.target.closest("[data-print]")) window.print();
});

// A menu left open would lie over the page after Escape or a tap beside it.
const menu = document.querySelector(".menu");
if (menu) {
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && menu.open) { menu.open = false; menu.querySelector("summary").focus(); }
  });
  document.addEventListener("click", (event) => {
    if (menu.open && !menu.contains(event.target)) menu.open = false;
  });
}

// A second tap on a slow network sends nothing twice; coming back with the browser's Back frees the button again.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.dataset.sent) { event.preventDefault(); return; }
  form.dataset.sent = "yes";
  window.setTimeout(() => delete form.dataset.sent, 8000);
});
window.addEventListener("pageshow", () => {
  for (const form of document.forms) delete form.dataset.sent;
});
