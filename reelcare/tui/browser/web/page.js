// Keys go to the app as soon as it is drawn, and not only once somebody has clicked on it.
const watch = new MutationObserver(() => {
  const keys = document.querySelector(".xterm-helper-textarea");
  if (keys) {
    watch.disconnect();
    keys.focus();
  }
});
watch.observe(document, { childList: true, subtree: true });
