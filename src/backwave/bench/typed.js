// What was typed into the job and the workbench has not answered yet: kept in this tab, sent again after a lost
// connection, and never called saved.  Fields send it (field.js), the line at the top says where it stands (state.js).
"use strict";
const backwaveTyped = (() => {
  const KEPT = "backwave-typed", EVENT = "backwave-typed", LATE = 5000, SETTLED = 2000;  // ms
  let all = {}, last = 0, gone = false, since = Date.now(), said = "";
  let line = null, shaken = false, waiting = [];  // the library's socket, whether it is let in, what is done until then
  try { all = JSON.parse(sessionStorage.getItem(KEPT)) ?? {}; } catch { /* none that can be read */ }
  const own = () => Object.entries(all).filter(([, one]) => one.job === store.job);
  const wire = () => (line?.connected && shaken ? line.id : "");
  const old = (one) => Date.now() - one.at > LATE;
  // Sent by nobody: its field is not on this page, or the job says something else by now and a person has to look.
  const stranded = ([, one]) => wire() && Date.now() - since > SETTLED
    && (one.held || ((one.by !== wire() || old(one)) && !document.getElementById(one.fid)));
  function tell(changed = true) {
    if (changed) try { sessionStorage.setItem(KEPT, JSON.stringify(all)); } catch { /* then it lives as long as the page */ }
    dispatchEvent(new Event(EVENT));
  }
  // Left alone, the library lets a click out before what was typed before it, and clicks among themselves in any order.
  // Here all of it waits in its order, and once the line stands, what was typed goes first.
  function stands() {
    gone = false;
    since = Date.now();
    const kept = waiting;
    waiting = [];
    tell(false);
    for (const told of kept) line.emit(...told);
  }
  Object.defineProperty(window, "socket", {
    get: () => line,
    set(made) {
      const out = made.emit.bind(made);
      made.emit = (...told) => {
        if (!wire() && ["event", "log"].includes(told[0])) waiting.push(told); else out(...told);
        return made;
      };
      made.on("disconnect", () => { shaken = false; gone = true; since = Date.now(); tell(false); });
      line = made;
    },
  });
  Object.defineProperty(window, "did_handshake", {
    get: () => line !== null,  // whether anything may be emitted: it waits here, not at the library
    set(now) { shaken = now; if (wire()) stands(); },
  });
  function look() {
    if (!wire() && Date.now() - since > LATE) gone = true;
    if (wire()) gone = false;
    const now = `${store.words()}${store.left().length}`;
    if (now !== said || own().length) { said = now; tell(false); }
  }
  setInterval(look, 500);
  const store = {
    job: "", EVENT, wire, old,
    key: (fid) => location.pathname + "#" + fid,
    of: (key) => (all[key]?.job === store.job ? all[key] : null),
    late: (one) => gone || old(one),
    begin(key, told) {  // typed and entered; what stood there when the first of it was typed is what counts
      const was = store.of(key);
      last = Math.max(last + 1, Date.now());
      all[key] = { ...told, seen: was && !was.held ? was.seen : told.seen, job: store.job, number: last, at: last, by: "", held: false };
      tell();
    },
    change(key, told) { Object.assign(all[key], told); tell(); },
    drop(key) { delete all[key]; tell(); },
    answered(number) {
      for (const [key, one] of own()) if (one.number === number) store.drop(key);
    },
    left: () => own().filter(stranded).map(([key, one]) => ({ key, ...one })),
    words() {
      const waiting = own().filter((one) => !stranded(one));
      if (gone || waiting.some(([, one]) => !one.held && old(one))) return "no connection: what you type is not kept until it is back";
      return waiting.length ? "sending …" : "";
    },
  };
  return store;
})();
