// A box that is touched or reached with the keyboard says why above the picture, and its lines stand out.

const why = document.getElementById("why");

function tell(words, group) {
  why.textContent = words;
  for (const other of document.querySelectorAll(".told")) other.classList.remove("told");
  group.classList.add("told");
}

for (const node of document.querySelectorAll("a.node")) {
  node.querySelector("title").remove(); // the same words stand above the picture now
  const told = () => tell(node.getAttribute("aria-label"), node.parentNode);
  node.addEventListener("pointerenter", told);
  node.addEventListener("focus", told);
}

for (const bond of document.querySelectorAll("g.bond")) {
  bond.addEventListener("pointerenter", () => tell(bond.querySelector("title").textContent, bond));
}
