// A clock that runs down. The server's time counts: the page knows how far this machine's clock is off it.

const left = [...document.querySelectorAll("time.left")].map((element) => ({
  element,
  until: Date.parse(element.dateTime),
  ahead: Date.parse(element.dataset.now) - Date.now(),
  isOver: false,
}));

function tick() {
  for (const each of left) {
    const seconds = Math.ceil((each.until - (Date.now() + each.ahead)) / 1000);
    if (seconds > 0) {
      const minutes = Math.floor(seconds / 60);
      each.element.textContent = `(${minutes}:${String(seconds % 60).padStart(2, "0")} left)`;
    } else if (!each.isOver) {
      each.isOver = true;
      each.element.textContent = "⚠ TIME IS UP";
      each.element.classList.add("time-up");
      const timer = each.element.closest(".timer");
      timer.classList.add("over");
      document.title = `⚠ Time is up · ${document.title}`;
      document.getElementById("said").textContent = `Time is up: ${timer.textContent.trim()}`;
    }
  }
}

if (left.length) {
  tick();
  setInterval(tick, 1000);
}
