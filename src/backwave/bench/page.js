// Of every page that the framework draws: what follows a resize, a link to a field, a key, a lost connection.
const NARROW = 760;  // as `server.NARROW`
(() => {
  const root = document.documentElement;
  let was = innerWidth;
  addEventListener("resize", () => {
    if ((was < NARROW) !== (innerWidth < NARROW)) emitEvent("backwave-width", innerWidth);
    was = innerWidth;
  });
  new MutationObserver(() => {  // in a row that runs off a phone's edge, what is chosen is seen
    for (const chip of document.querySelectorAll(":is(.chooser, .places) > .here:not([data-seen])")) {
      const row = chip.parentElement.getBoundingClientRect(), own = chip.getBoundingClientRect();
      chip.parentElement.scrollLeft += own.left + own.width / 2 - row.left - row.width / 2;
      chip.dataset.seen = "";
    }
  }).observe(root, { childList: true, subtree: true });
  const reach = (left = 100) => {  // a link leads to a field: as soon as it is there, the focus goes to it
    const id = location.hash.slice(1), found = id && document.getElementById(id);
    if (id && !found && left) {
      const words = id.split("-");  // in a group that is not open yet: the nearest that is there is opened
      for (let n = words.length - 1, near = null; n > 1 && !near; n--)
        (near = document.getElementById(words.slice(0, n).join("-")))?.matches(".absent") && near.querySelector("button").click();
      setTimeout(reach, 100, left - 1);
    }
    if (!found) return;
    for (let fold = found; (fold = fold.closest("details:not([open])")); ) fold.open = true;
    found.scrollIntoView({ block: "center" });
    (found.matches("input, select, fieldset, .content") ? found : found.querySelector("summary, button"))?.focus();
  };
  const push = history.pushState.bind(history);
  history.pushState = (...told) => { push(...told); reach(); };
  for (const event of ["load", "hashchange"]) addEventListener(event, () => reach());
  addEventListener("keydown", (e) => {
    if (!(e.ctrlKey || e.metaKey) || e.target.matches("input, textarea")) return;
    const key = e.key.toLowerCase();
    if (key === "z" || key === "y") { e.preventDefault(); emitEvent("backwave-step", key === "y" || e.shiftKey ? "redo" : "undo"); }
  });
})();
(() => {  // a lost connection: is the workbench away, or has this browser no access any more?
  let asking = false;
  const ask = async () => {
    const popup = document.getElementById("popup");
    if (asking || !popup || popup.ariaHidden !== "false") return;
    asking = true;
    try {
      const answer = await fetch("/access", { cache: "no-store" });
      if (answer.status === 403) popup.replaceChildren(document.createTextNode((await answer.text()).slice(0, 600)));
    } catch { /* nobody answers: the library says so */ }
    asking = false;
  };
  setInterval(ask, 2000);
})();
