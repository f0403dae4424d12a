// Of every page: light or dark as it was chosen, before anything is drawn; how wide the window is, for the pages that
// follow; what a phone's bar holds behind "More".
(() => {
  const root = document.documentElement, kept = localStorage.getItem("backwave-theme");
  root.lang = "en";
  if (kept) root.dataset.theme = kept;
  window.backwaveTheme = () => {
    const dark = (root.dataset.theme || (matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light")) === "dark";
    root.dataset.theme = dark ? "light" : "dark";
    localStorage.setItem("backwave-theme", root.dataset.theme);
  };
  const wide = () => { document.cookie = "backwave-width=" + innerWidth + "; SameSite=Strict; Path=/"; };
  wide();
  addEventListener("resize", wide);
  const more = (open, button = document.querySelector(".more")) => {
    button?.closest(".places").classList.toggle("open", open);
    button?.setAttribute("aria-expanded", open);
  };
  addEventListener("click", ({ target }) => {
    const opens = target.closest?.(".more")?.getAttribute("aria-expanded") === "false";
    more(opens);
    if (opens) document.querySelector(".rest").focus();
  });
  addEventListener("keydown", (e) => {
    if (e.key !== "Escape" || !document.querySelector(".places.open")) return;
    more(false);
    document.querySelector(".more").focus();
  });
})();
