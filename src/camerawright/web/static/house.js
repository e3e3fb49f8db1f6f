// Comfort only: every page works without this.

// On a narrow screen the row of pages is longer than the screen: the one that is open stands in sight.
const open = document.querySelector(".job-nav a[aria-current]");
if (open) open.parentNode.scrollLeft = open.offsetLeft - open.parentNode.offsetLeft - 16;

// What a choice folds and unfolds above it moves it: with the arrow keys it would leave the screen.
document.addEventListener("change", ({ target }) => {
  if (target.matches("input[type=radio]")) target.closest("label").scrollIntoView({ block: "nearest" });
});

// After a refusal, the reasons come first.
const first = document.querySelector("[data-focus]");
if (first) first.focus();

// A field may be filled with what the last camera had; it stays the repairer's word, so it is never filled by itself.
for (const button of document.querySelectorAll("button[data-fill]")) {
  button.hidden = false;
  button.addEventListener("click", () => {
    const field = document.getElementById(button.dataset.fill);
    field.value = field.value.trim() ? `${field.value.trimEnd()}\n${button.dataset.text}` : button.dataset.text;
    field.focus();
  });
}

// A file that is too large is told before it travels.
for (const input of document.querySelectorAll("input[type=file][data-max-mb]")) {
  input.addEventListener("change", () => {
    const most = Number(input.dataset.maxMb);
    const file = [...input.files].find((each) => each.size > most * 1e6);
    input.setCustomValidity(file ? `${file.name} has more than ${most} MB` : "");
    input.reportValidity();
  });
}

// Long work says that it goes on.
for (const button of document.querySelectorAll("button[data-busy]")) {
  button.form.addEventListener("submit", () => {
    document.getElementById("said").textContent = button.dataset.busy;
    button.textContent = button.dataset.busy;
    button.setAttribute("aria-busy", "true");
  });
}
