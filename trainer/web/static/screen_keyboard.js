// A keyboard on the screen covers the foot of the page: what stays there is set above it.

/** Keep `--covered` on the page: how much of its foot is covered. */
export function avoidScreenKeyboard() {
  const view = window.visualViewport;
  if (!view) return;
  const show = () => {
    // Whoever has zoomed in sees a part of the page: nothing covers the rest.
    const covered = view.scale > 1.01 ? 0 : Math.max(0, innerHeight - view.height - view.offsetTop);
    document.documentElement.style.setProperty("--covered", `${Math.round(covered)}px`);
  };
  view.addEventListener("resize", show);
  view.addEventListener("scroll", show);
  show();
}
