// What was typed into one form survives another entry: each form is remembered as it is typed, and comes back as it was
// left, until it is entered itself. Only this tab remembers.

const isTyped = (field) => field.name && !["hidden", "file", "submit", "button"].includes(field.type);
const typedIn = (form) => [...form.elements].filter(isTyped);
const called = (form) => form.getAttribute("id"); // form.id is its field of that name
const key = (form) => `draft ${location.pathname} ${called(form)}`;
const value = (field) => (field.type === "checkbox" ? field.checked : field.value);
const partOf = (form) => form.querySelector("[name=part]")?.dataset.was ?? form.querySelector("input[type=hidden][name=part]")?.value ?? "";

function keep(form) {
  const fields = {};
  for (const field of typedIn(form)) if (isChanged(field)) fields[field.name] = value(field);
  if (Object.keys(fields).length) sessionStorage.setItem(key(form), JSON.stringify({ part: partOf(form), fields }));
  else sessionStorage.removeItem(key(form));
}

// In a form that came back nobody knows what was proposed: an emptied field is kept as emptied, too.
function isChanged(field) {
  return field.dataset.was === undefined || String(value(field)) !== field.dataset.was;
}

// A draft belongs to its part: it does not come back in the form of another one, unless that names none yet.
function restore(form) {
  const draft = JSON.parse(sessionStorage.getItem(key(form)) ?? "null");
  if (!draft || (partOf(form) && draft.part && partOf(form) !== draft.part)) return;
  for (const field of typedIn(form)) {
    if (!(field.name in draft.fields)) continue;
    if (field.type === "checkbox") field.checked = draft.fields[field.name];
    else field.value = draft.fields[field.name];
    const folded = field.closest("details");
    if (folded) folded.open = true;
  }
}

const refused = document.querySelector("#refused a[href^='#f-']")?.getAttribute("href").slice(1);
for (const form of document.querySelectorAll("form[method=post]")) {
  if (!typedIn(form).length) continue;
  if (called(form) === refused) {
    keep(form); // it came back from the server as it was typed, and is kept if another form goes first
  } else {
    for (const field of typedIn(form)) field.dataset.was = value(field);
    restore(form);
  }
  form.addEventListener("input", () => keep(form));
  form.addEventListener("submit", () => sessionStorage.removeItem(key(form)));
}

for (const link of document.querySelectorAll("[data-clear]")) {
  link.addEventListener("click", () => sessionStorage.removeItem(`draft ${location.pathname} ${link.dataset.clear}`));
}
