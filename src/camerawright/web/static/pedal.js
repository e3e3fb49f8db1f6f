// The foot pedal is two keys. Page Down goes to the next thing to do, and enters only when the button it went to is
// pressed again: a foot that slips once enters nothing. Page Up lets go first, then goes back.

const PAUSE_MS = 350; // a contact that bounces, or a foot that trembles, is one press
const steps = () => [...document.querySelectorAll("[data-pedal]")].filter((step) => step.offsetParent !== null);
const said = document.getElementById("said");
let last = -Infinity;

function down() {
  const all = steps();
  const at = all.indexOf(document.activeElement);
  if (at >= 0 && all[at].tagName === "BUTTON") {
    all[at].click();
    return;
  }
  const next = all[at + 1] ?? all[0];
  if (!next) return;
  next.focus();
  next.scrollIntoView({ block: "nearest" });
  if (next.tagName === "BUTTON") {
    next.classList.add("armed");
    next.addEventListener("blur", () => next.classList.remove("armed"), { once: true });
    said.textContent = `Press again: ${next.textContent.trim()}`;
  }
}

function up() {
  if (steps().includes(document.activeElement)) {
    document.activeElement.blur();
    said.textContent = "Let go";
  } else {
    history.back();
  }
}

document.addEventListener("keydown", (event) => {
  const act = { PageDown: down, PageUp: up }[event.key];
  if (!act || event.altKey || event.ctrlKey || event.metaKey) return;
  event.preventDefault();
  if (event.repeat || event.timeStamp - last < PAUSE_MS) return;
  last = event.timeStamp;
  act();
});
