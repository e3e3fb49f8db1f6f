// The level and the firings of a recording that goes on. The page shows the same without this, at each look.

const live = document.getElementById("live");
const at = (id) => document.getElementById(id);
let isStopping = false;
let nSaid = at("live-firings")?.rows.length ?? 0;

function cell(row, text, kind) {
  const made = document.createElement(kind ?? "td");
  made.textContent = text;
  made.className = "number";
  if (kind) made.scope = "row";
  row.append(made);
  return made;
}

function add(firing) {
  const row = document.createElement("tr");
  cell(row, `${firing.n}${firing.flags.length ? " !" : ""}`, "th");
  for (const text of [firing.at_s, firing.time, firing.off]) cell(row, text);
  cell(row, `${firing.sign} ${firing.verdict}`).className = "verdict";
  at("live-firings").prepend(row);
  at("said").textContent = `Firing ${firing.n}: ${firing.time} ${firing.verdict}`;
}

function show(state) {
  at("live-time").textContent = state.duration;
  at("live-bar").value = state.peak_percent;
  at("live-word").textContent = state.level_word;
  at("live-level").textContent = state.level;
  const flags = state.is_over ? ["The recording it plays is over: press STOP.", ...state.flags] : state.flags;
  at("live-flags").replaceChildren(
    ...flags.map((flag) => Object.assign(document.createElement("li"), { textContent: `! ${flag}` })),
  );
  if (!at("live-firings")) return;
  at("live-count").textContent = state.firings.length;
  at("live-why").textContent = state.firings.length ? "" : state.why_not;
  for (const firing of state.firings.slice(nSaid)) add(firing);
  nSaid = state.firings.length;
}

async function look() {
  if (isStopping) return;
  try {
    const answer = await fetch(live.dataset.state);
    const state = await answer.json();
    if (isStopping) return; // the answer to STOP is on its way
    if (!state.is_running) {
      location.reload(); // the set-up check is over, or somebody else pressed STOP
      return;
    }
    show(state);
  } catch {
    at("live-word").textContent = "the server does not answer";
  }
  setTimeout(look, 300);
}

if (live) {
  at("f-stop").addEventListener("submit", () => {
    isStopping = true;
  });
  // Without this script the newest firing stands last.
  at("live-firings")?.replaceChildren(...[...at("live-firings").rows].reverse());
  look();
}
