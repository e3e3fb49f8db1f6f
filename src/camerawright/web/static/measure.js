// Recordings dropped on the page, how far sending and measuring have come, and answers without losing what was typed.
// The page does all of this without this script too, a step at a time.

const at = (id) => document.getElementById(id);
const say = (text) => {
  at("said").textContent = text;
};

// -- in: dropped or chosen, then sent with a bar ----------------------------------------------------------------------

const form = at("f-measure");
const input = at("recordings");
document.querySelector("[data-drop]").hidden = false;

function showChosen() {
  const rows = [...input.files].map((file) =>
    Object.assign(document.createElement("li"), { textContent: `${file.name}, ${(file.size / 1e6).toFixed(1)} MB` }),
  );
  at("chosen").replaceChildren(...rows);
}
input.addEventListener("change", showChosen);

const holdsFiles = (event) => event.dataTransfer?.types.includes("Files");
addEventListener("dragover", (event) => {
  if (!holdsFiles(event)) return;
  event.preventDefault();
  document.body.classList.add("dropping");
});
addEventListener("dragleave", (event) => {
  if (!event.relatedTarget) document.body.classList.remove("dropping");
});
addEventListener("drop", (event) => {
  if (!holdsFiles(event)) return;
  event.preventDefault();
  document.body.classList.remove("dropping");
  input.files = event.dataTransfer.files;
  input.dispatchEvent(new Event("change"));
  at("send").open = true;
  form.querySelector("button.primary").focus();
  say(`${input.files.length} chosen: press Send and measure.`);
});

form.addEventListener("submit", (event) => {
  if (!input.files.length) return; // readings that were typed, or nothing: the page answers as it does without this
  event.preventDefault();
  const [bar, words] = at("sending").children;
  const button = form.querySelector("button.primary");
  const asked = new XMLHttpRequest();
  const leaving = (leave) => leave.preventDefault(); // what is on its way would be lost
  at("sending").hidden = false;
  addEventListener("beforeunload", leaving);
  asked.upload.addEventListener("progress", ({ loaded, total }) => {
    bar.value = loaded / total;
    words.textContent = loaded < total ? `${(loaded / 1e6).toFixed(0)} of ${(total / 1e6).toFixed(0)} MB sent` : "Measuring…";
  });
  asked.addEventListener("loadend", () => {
    removeEventListener("beforeunload", leaving);
    if (asked.status && asked.status < 400) {
      history.replaceState(null, "", `${location.pathname}#waiting`);
      location.reload();
      return;
    }
    button.textContent = "Send again"; // the files stay chosen
    button.removeAttribute("aria-busy");
    words.textContent = asked.status ? "" : "The server does not answer.";
    if (asked.status) refuse(new DOMParser().parseFromString(asked.responseText, "text/html"));
  });
  asked.open("POST", location.pathname);
  asked.send(new FormData(form));
});

// Why it was not taken, on top of the page.
function refuse(page) {
  const why = page.getElementById("refused") ?? page.getElementById("main");
  why.id = "refused";
  at("refused")?.remove();
  at("main").prepend(why);
  why.tabIndex = -1;
  why.focus();
  at("sending").hidden = true;
}

// -- readings typed in: a row more, and Enter goes on as a gauge with a plug types it ----------------------------------

for (const button of document.querySelectorAll("[data-more-rows]")) {
  const body = button.closest("fieldset").querySelector("tbody");
  button.hidden = false;
  button.addEventListener("click", () => {
    const row = body.lastElementChild.cloneNode(true);
    const n = body.rows.length;
    for (const cell of row.querySelectorAll("input")) {
      cell.name = cell.name.replace(/\.\d+\./, `.${n}.`);
      cell.value = "";
      cell.setAttribute("aria-label", cell.getAttribute("aria-label").replace(/\d+$/, n + 1));
    }
    body.append(row);
    row.querySelector("input").focus();
  });
  body.addEventListener("keydown", (event) => {
    if (event.key !== "Enter") return;
    event.preventDefault();
    const cells = [...body.querySelectorAll("input")];
    const next = cells[cells.indexOf(event.target) + 1];
    if (next) next.focus();
    else button.click();
  });
}

// -- what waits: looked at until it is measured, row by row -----------------------------------------------------------

const LOOK_MS = 500;
const rows = () => [...document.querySelectorAll("#waiting [data-file]")];
const isBusy = () => rows().some((row) => row.dataset.status === "measuring");

async function look() {
  if (!isBusy()) return;
  try {
    const state = await (await fetch(at("waiting").dataset.state)).json();
    const now = new Map(state.waiting.map((each) => [each.file, each]));
    for (const row of rows()) {
      const bar = row.querySelector("progress");
      const part = now.get(row.dataset.file)?.part ?? null;
      if (bar && part !== null) bar.value = part;
    }
    const isOther = rows().some((row) => now.get(row.dataset.file)?.status !== row.dataset.status);
    if (isOther || state.n_readings !== Number(at("readings").dataset.n)) await refresh(await fetch(location.pathname));
  } catch {
    say("The server does not answer");
  }
  setTimeout(look, LOOK_MS);
}

// Rows that stay as they are keep what is typed in them.
async function refresh(answer) {
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const fresh = page.getElementById("waiting");
  for (const row of fresh.querySelectorAll("[data-file]")) {
    const old = document.getElementById(row.id);
    if (old && old.dataset.status === row.dataset.status && old.dataset.status !== "measuring") row.replaceWith(old);
  }
  at("waiting").replaceWith(fresh);
  if (page.getElementById("readings").dataset.n !== at("readings").dataset.n) {
    at("readings").replaceWith(page.getElementById("readings"));
    say("A reading was entered");
  }
  offerAll();
}

// A row is answered by itself: the others keep what is typed in them.
document.addEventListener("submit", (event) => {
  const row = event.target.closest("#waiting [data-file]");
  if (!row) return;
  event.preventDefault();
  answer(row, event.submitter?.value ?? "enter").then(look);
});

async function answer(row, act) {
  const sent = new FormData(row.querySelector("form"));
  sent.set("act", act);
  row.querySelectorAll("button").forEach((button) => button.setAttribute("aria-busy", "true"));
  row.dataset.status = "answered"; // whatever comes back takes its place
  await refresh(await fetch(row.querySelector("form").action, { method: "POST", body: sent }));
}

function offerAll() {
  const ready = rows().filter((row) => row.dataset.status === "proposed");
  const button = at("enter-all");
  if (!button) return;
  button.hidden = ready.length < 2;
  button.onclick = async () => {
    for (const row of ready) await answer(row, "enter");
    look();
  };
}

offerAll();
look();
