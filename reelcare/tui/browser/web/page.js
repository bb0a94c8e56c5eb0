// Keys go to the app as soon as it is drawn, and not only once somebody has clicked on it.
const watch = new MutationObserver(() => {
  const keys = document.querySelector(".xterm-helper-textarea");
  if (keys) {
    watch.disconnect();
    keys.focus();
  }
});
watch.observe(document, { childList: true, subtree: true });

// The size of the text: what the address says, else what was chosen here before, else larger for a finger.
const KEPT = "reelcare-text-size";
const SMALLEST = 10, LARGEST = 40;

function textSize(page) {
  if ("sized" in page.dataset) return Number(page.dataset.fontSize);
  const kept = Number(localStorage.getItem(KEPT));
  return kept || (matchMedia("(pointer: coarse)").matches ? 20 : Number(page.dataset.fontSize));
}

function press(key, code) {
  const event = new KeyboardEvent("keydown", { key, code: key, bubbles: true, cancelable: true });
  Object.defineProperty(event, "keyCode", { get: () => code }); // the terminal reads the number
  document.querySelector(".xterm-helper-textarea")?.dispatchEvent(event);
}

// A finger that moves over the app turns its wheel by a line for each line that it has moved.
function scrollByFinger(page) {
  let from = null;
  page.addEventListener("touchstart", (event) => { from = event.touches[0].clientY; }, { passive: true });
  page.addEventListener("touchend", () => { from = null; });
  page.addEventListener("touchmove", (event) => {
    const { clientX, clientY } = event.touches[0];
    const screen = page.querySelector(".xterm-screen");
    if (from === null || !screen) return;
    event.preventDefault();
    const line = Number(page.dataset.fontSize) * 1.2;
    for (; Math.abs(from - clientY) >= line; from += from > clientY ? -line : line) {
      screen.dispatchEvent(new WheelEvent("wheel", {
        deltaY: from > clientY ? 1 : -1, deltaMode: WheelEvent.DOM_DELTA_LINE, clientX, clientY, bubbles: true, cancelable: true,
      }));
    }
  }, { passive: false });
}

document.addEventListener("DOMContentLoaded", () => {
  const page = document.querySelector("#terminal");
  page.dataset.fontSize = textSize(page);
  scrollByFinger(page);
  for (const button of document.querySelectorAll(".keys button")) {
    button.addEventListener("click", () => {
      if (button.dataset.key) return press(button.dataset.key, Number(button.dataset.code));
      const size = Number(page.dataset.fontSize) + Number(button.dataset.larger);
      localStorage.setItem(KEPT, Math.min(Math.max(size, SMALLEST), LARGEST));
      location.assign("/"); // the app is drawn anew
    });
  }
});
