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
    async file(event, most, emit) {  // a text that is handed over, read here; null where it is none
      const [file] = event.target.files;
      if (!file) return;
      const fits = file.name.endsWith(".toml") && file.size <= most;
      let words = null;
      if (fits)
        try { words = new TextDecoder("utf-8", { fatal: true }).decode(await file.arrayBuffer()); } catch {}
      event.target.value = "";
      emit(file.name, words, fits);
    },
    reach(id, left = 40) {  // the focus goes to a field as soon as it is there
      const found = document.getElementById(id);
      if (!found) { if (left) setTimeout(store.reach, 50, id, left - 1); return; }
      found.focus({ preventScroll: true });
      found.scrollIntoView({ block: "nearest" });
    },
    left: () => own().filter(stranded).map(([key, one]) => ({ key, ...one })),
    words() {
      const waiting = own().filter((one) => !stranded(one));
      if (gone || waiting.some(([, one]) => !one.held && old(one))) return "no connection: what you type is not kept until it is back";
      return waiting.length ? "sending …" : "";
    },
  };
  let held = "";  // which field had the focus last
  // What an input bound to a key does, wherever it stands: in a form, in a cell of a table (`mixins`).
  store.field = {
    props: { fid: String, label: String, kind: String, options: Array, value: String, error: String, tries: Boolean, first: Boolean },
    data() {
      const typed = store.of(store.key(this.fid));  // before the page was built anew
      return { mine: typed?.value ?? this.value, sent: this.value, seen: this.value, waits: typed, why_not: "" };
    },
    watch: {
      // What the job says now, unless something else is being typed here; `seen` is what stood here when that began.
      value(now) {
        this.news = true;
        if (this.waits) return;  // until that is answered, what was entered stays
        if (this.mine === this.sent || document.activeElement?.id !== this.fid) this.mine = this.seen = now;
        this.sent = now;
      },
      mine(now) {  // what it would bring, while it is typed; only the latest
        clearTimeout(this.trying);
        this.trying = 0;
        if (this.tries && document.activeElement?.id === this.fid) this.trying = setTimeout(this.weigh, 250, now);
      },
    },
    created() {
      this.me = `${Date.now()}-${Math.random()}`;
      addEventListener(store.EVENT, this.look);
    },
    unmounted() { clearTimeout(this.trying); removeEventListener(store.EVENT, this.look); },
    mounted() {
      this.look();
      if (this.first) {  // the number that was tapped: what is typed takes its place
        const field = document.getElementById(this.fid);
        field?.focus({ preventScroll: true });
        field?.select?.();
      }
      if (held === location.pathname + this.fid && document.activeElement === document.body)
        document.getElementById(this.fid)?.focus({ preventScroll: true });  // the form was built anew under the hand
    },
    computed: {  // what cannot be chosen and stands there all the same is seen
      choices() { return !this.mine || this.options.includes(this.mine) ? this.options : [this.mine, ...this.options]; },
    },
    methods: {
      weigh(value) {
        clearTimeout(this.trying);
        this.trying = 0;
        this.$emit("try", { value });
      },
      send() {
        if (this.trying) this.weigh(this.mine);  // against what the job says before this is entered
        if (this.mine === this.sent && !this.error && !this.waits?.held) return;
        this.sent = this.mine;
        const seen = this.waits?.held ? this.value : this.seen;
        this.news = false;
        store.begin(this.key(), { from: this.me, fid: this.fid, label: this.label, value: this.mine, seen });
      },
      key() { return store.key(this.fid); },
      look() {  // where it stands with what was entered here: still to be sent, sent, or answered
        const one = store.of(this.key()), now = wire();
        if (!one && this.waits && (this.news || this.waits.held)) {
          if (this.waits.held || (this.mine === this.sent && !this.error)) this.mine = this.seen = this.value;
          this.sent = this.value;
        }
        this.waits = one;
        this.why_not = !one ? "" : one.held ? `Not taken: since then the job says “${this.value}” here.`
          : store.late(one) ? "Not taken yet: it is sent again when the workbench is back." : "";
        if (!one || one.held || !now || (one.by === now && (one.from === this.me || !old(one)))) return;
        // A workbench started anew knows nothing of what stood here before: over another value, a person decides.
        if (one.from !== this.me && ![one.seen, one.value.trim()].includes(this.value)) {
          store.change(this.key(), { held: true });
          return;
        }
        this.sent = one.value;
        store.change(this.key(), { by: now, from: this.me, at: Date.now() });
        this.$emit("commit", { value: one.value, seen: one.seen, number: one.number });
      },
      clear() { this.mine = ""; this.send(); },
      back() {
        if (this.waits?.held || (this.waits && !wire())) store.drop(this.key());
        this.mine = this.seen = this.value;
      },
      lit() { held = location.pathname + this.fid; this.$emit("lit", this.fid); },
    },
  };
  return store;
})();
