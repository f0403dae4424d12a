// What was said on this phone: kept here until the bench has it, sent as often as that takes, shown at once.
// A word has a key of its own, so that the bench takes it once, and names the words it was said over.
"use strict";
const Keep = (() => {
  const job = document.body.dataset.job;
  const letters = (n) => Array.from(crypto.getRandomValues(new Uint8Array(n)), (b) => "abcdefghijkmnpqrstuvwxyz23456789"[b & 31]).join("");
  const kept = {}, unkept = new Set();  // what this phone would not keep is held as long as the page is open
  const get = (name, none) => {
    if (unkept.has(name)) return kept[name] ?? none;
    try { return JSON.parse(localStorage.getItem(`backwave-work:${job}:${name}`)) ?? none; } catch { return kept[name] ?? none; }
  };
  const put = (name, value) => {
    kept[name] = value;
    try {
      if (value === null) localStorage.removeItem(`backwave-work:${job}:${name}`);
      else localStorage.setItem(`backwave-work:${job}:${name}`, JSON.stringify(value));
      unkept.delete(name);
    } catch { unkept.add(name); }
  };
  let device = get("device", "");
  if (!device) put("device", (device = letters(6)));
  let list = get("list", null), off = false, denied = false, trouble = [], job_file = {}, busy = false, timer = 0, skew = get("skew", 0), watching = () => {};
  const now = () => new Date(Date.now() + skew).toISOString();
  const queue = () => get("words", []);
  const same = (word, kind, id, part) => word.kind === kind && word.id === id && (word.part || "") === part;

  function say(kind, id, fields, part = "") {
    const mine = queue(), last = mine.filter((w) => same(w, kind, id, part)).pop();
    const over = last ? [last.key] : (list?.heads[[kind, id, part].join("\n")] ?? []);
    const word = { kind, id, ...(part ? { part } : {}), ...fields, when: now(), by: get("me", "") || `phone ${device}`, key: `${device}-${letters(10)}`, over };
    put("words", [...mine, word]);
    watching();
    send();
    return word;
  }

  // -- pictures: too large for the words' place ---------------------------------------------------------------
  const store = () => new Promise((done, wrong) => {
    const asked = indexedDB.open("backwave-pictures", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("pictures", { keyPath: "name" });
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => wrong(asked.error);
  });
  const loose = new Set();  // pictures that this phone would not keep
  const held = {}, shown = {};  // name to picture and to its address, as long as the page is open
  const url = (name) => (held[name] ? (shown[name] ??= URL.createObjectURL(held[name])) : null);
  async function pictures(mode, work) {
    const base = await store();
    try {
      return await new Promise((done, wrong) => {
        const turn = base.transaction("pictures", mode), asked = work(turn.objectStore("pictures"));
        turn.oncomplete = () => done(asked.result);
        turn.onerror = turn.onabort = () => wrong(turn.error);
      });
    } finally { base.close(); }
  }
  async function picture(file) {
    const drawn = await createImageBitmap(file, { imageOrientation: "from-image" });
    for (let longest = 1600, quality = 0.82; ; longest *= 0.8, quality -= 0.06) {
      const by = Math.min(1, longest / Math.max(drawn.width, drawn.height));
      const sheet = document.createElement("canvas");
      sheet.width = Math.max(1, Math.round(drawn.width * by));
      sheet.height = Math.max(1, Math.round(drawn.height * by));
      const pen = sheet.getContext("2d");
      pen.fillStyle = "#fff";
      pen.fillRect(0, 0, sheet.width, sheet.height);
      pen.drawImage(drawn, 0, 0, sheet.width, sheet.height);
      const blob = await new Promise((done) => sheet.toBlob(done, "image/jpeg", quality));  // pixels alone: no tag goes along
      if (blob.size < 900_000 || longest < 500) {
        const name = `photos/${device}-${letters(8)}.jpg`;
        held[name] = blob;
        await pictures("readwrite", (all) => all.put({ name, job, blob })).catch(() => loose.add(name));
        return name;
      }
    }
  }

  // -- to the bench -------------------------------------------------------------------------------------------
  const fault = (status, text) => Object.assign(new Error(text.slice(0, 500) || "the bench is in trouble"), { status });
  async function ask(path, told = {}) {
    denied = false;
    const stop = new AbortController(), late = setTimeout(() => stop.abort(), 12_000);
    try {
      const answer = await fetch(path, { ...told, signal: stop.signal, cache: "no-store" });
      const text = await answer.text();
      denied = answer.status === 403;
      if (denied || answer.status >= 500) throw fault(answer.status, text);
      try { return [answer.status, JSON.parse(text)]; } catch { return [answer.status, { error: text.slice(0, 500) }]; }
    } finally { clearTimeout(late); }
  }
  const refuse = (what, why) => put("refused", [...get("refused", []), { what, why }]);

  // One word that the bench cannot take stops no other: where it fails on several, fewer are sent at once, down to
  // one; what it refuses is shown and sent no more; what it fails on comes after all others.
  const failed = new Map();
  let most = 100;
  async function hand() {
    const tries = (word) => failed.get(word.key) ?? 0;
    const all = queue().sort((a, b) => tries(a) - tries(b)), fresh = all.filter((word) => !tries(word));
    const going = fresh.length ? fresh.slice(0, most) : all.slice(0, 1);
    if (!going.length) return [];
    const body = JSON.stringify({ words: going });
    const [status, told] = await ask("/chores/words", { method: "POST", headers: { "content-type": "application/json" }, body }).catch((error) => {
      if (error.status >= 500) return [error.status, { error: error.message }];
      throw error;
    });
    const end = (word, why) => { refuse(word, why[0].toUpperCase() + why.slice(1)); put("words", queue().filter((w) => w.key !== word.key)); };
    if (status === 200) {
      most = Math.min(100, 2 * most);
      going.forEach((word, n) => { failed.delete(word.key); if (told.reasons[n]) end(word, told.reasons[n]); });
      return told.taken;
    }
    const why = told.error ?? told.detail ?? "The bench did not take it.";
    if (going.length > 1 && status !== 409) most = going.length >> 1;
    else if (status === 400 || status === 413) end(going[0], why);
    else {
      if (status !== 409) failed.set(going[0].key, tries(going[0]) + 1);  // 409: it can take none
      trouble = [why];
    }
    return [];
  }

  async function send() {
    clearTimeout(timer);
    if (busy) { timer = setTimeout(send, 150); return; }
    busy = true;
    try {
      trouble = [];
      const landed = await hand();
      const [status, told] = await ask(`/chores/list?device=${device}&seen=${list?.tag ?? ""}`);
      if (status !== 200) throw fault(500, told.error ?? "");
      job_file = { state: told.job, said: told.said };
      skew = Date.parse(told.now) - Date.now();
      put("skew", skew);
      if (told.trouble) trouble = [...trouble, ...told.trouble];
      else if (told.tasks) put("list", (list = told));  // a tab that the phone dropped comes back with it, network or not
      else if (told.nothing) trouble = [...trouble, "There is no job here yet. Begin one in the place Job."];
      if (landed.length) put("words", queue().filter((w) => !landed.includes(w.key)));  // only now: the list has them
      off = false;
      await deliver();
    } catch (error) {
      off = !(error.status >= 500);
      if (error.status) trouble = [error.message];
    }
    busy = false;
    watching();
    timer = setTimeout(send, off || trouble.length ? 4000 : queue().length ? 200 : 2000);
  }
  const sent = new Set();
  const pictured = () => new Set([...(list?.steps ?? []), ...(list?.condition ?? []), ...queue()].flatMap((one) => one.photos ?? []));
  const waiting = () => [...pictured()].filter((name) => held[name] && !sent.has(name)).length;
  const frail = () => (unkept.has("words") && queue().length > 0) || [...loose].some((name) => held[name] && !sent.has(name));
  async function stored() {
    const all = (await pictures("readonly", (s) => s.getAll()).catch(() => [])).filter((p) => p.job === job);
    for (const one of all) held[one.name] ??= one.blob;
    for (const one of Object.keys(held).filter((name) => !all.some((p) => p.name === name))) all.push({ name: one, blob: held[one] });
    return all;
  }
  async function deliver() {  // those that something said names: one that was only tried stays on the phone
    const wanted = pictured(), all = (await stored()).filter((one) => wanted.has(one.name) && !sent.has(one.name));
    for (const one of all) {
      const [status, told] = await ask(`/chores/photo?name=${one.name}`, { method: "POST", headers: { "content-type": "image/jpeg" }, body: one.blob });
      sent.add(one.name);
      if (status === 200) await pictures("readwrite", (s) => s.delete(one.name)).catch(() => {});
      else refuse({ kind: "picture", id: one.name }, `${told.error ?? "The bench did not take it."} It stays on this phone, and is sent again when the page is opened anew.`);
    }
  }
  addEventListener("online", send);
  addEventListener("storage", () => watching());
  document.addEventListener("visibilitychange", () => document.hidden || send());

  // -- as it will be when all has arrived ----------------------------------------------------------------------
  function seen() {
    if (!list) return null;
    const all = structuredClone(list), mine = queue();
    for (const word of mine) if (word.kind !== "back") all.own.push({ ...word, what: told(word, all), stands: true });
    for (const word of mine) {
      if (word.kind !== "back") continue;
      const one = all.own.find((w) => w.key === word.id);
      if (one) one.stands = !word.done;
      if (one && !mine.some((w) => w.key === word.id)) turned(all, one, word.done);
    }
    for (const word of mine) if (word.kind !== "back" && all.own.find((w) => w.key === word.key).stands) apply(all, word);
    for (const task of all.tasks) task.state = state(task, all);
    return all;
  }
  const named = (rows, id) => rows.find((one) => one.id === id);
  function apply(all, word) {
    const { kind, id, part } = word, task = named(all.tasks, id), step = named(all.steps, id), item = named(all.items, id);
    if (kind === "tick" && task) Object.assign(task, { done: word.done, by: word.by, when: word.when, unsent: true });
    if (kind === "gate" && task) for (const gate of task.gates) if (gate.words === part) gate.done = word.done;
    if (kind === "time" && task) {
      if (word.go) task.runs.push({ key: part, since: word.when, until: "", by: word.by, minutes: 0 });
      else for (const run of task.runs) if (run.key === part && !run.until) run.until = word.when;
      task.unsent = true;
    }
    if (kind === "task") {
      if (word.drop) {
        const gone = task?.after ?? [];
        all.tasks = all.tasks.filter((t) => t.id !== id);
        for (const t of all.tasks) if (t.after.includes(id)) t.after = [...new Set(t.after.flatMap((a) => (a === id ? gone : [a])))];
      } else {
        const one = task ?? { id, title: "", phase: "of your own", who: "", minutes: 15, machine_min: 0, after: [], tools: [], consumables: [], gates: [], cautions: [], runs: [], done: false, took: null };
        for (const name of ["title", "who", "minutes", "after"]) if (word[name] !== undefined) one[name] = word[name];
        one.unsent = true;
        if (!task) all.tasks.push(one);
      }
    }
    if (kind === "item" && item) for (const name of ["have", "price"]) if (word[name] !== undefined) item[name] = word[name];
    if (kind === "note") {
      const one = { id, text: word.text, place: word.place ?? "", fasteners: word.count ?? null, clips: word.clips ?? null, photos: word.photos ?? [], when: word.when, by: word.by, back: false, fasteners_back: null, clips_back: null, unsent: true };
      (word.about === "condition" ? all.condition : all.steps).push(one);
    }
    if (kind === "refit" && step) Object.assign(step, { back: word.done, fasteners_back: word.count ?? step.fasteners_back, clips_back: word.clips ?? step.clips_back, unsent: true });
    if (kind === "consent") {
      all.consents = [...all.consents.filter((c) => c.id !== id), { id, who: word.who, text: word.text, when: word.when, given: word.given, unsent: true }];
      all.consented = all.consents.some((c) => c.given);
    }
  }
  function turned(all, word, gone) {  // taken back here, and the bench does not know it yet
    const task = named(all.tasks, word.id), step = named(all.steps, word.id), item = named(all.items, word.id);
    if (word.kind === "tick" && task) { task.done = !task.done; task.unsent = true; }
    if (word.kind === "gate" && task) for (const gate of task.gates) if (gate.words === word.part) gate.done = !gate.done;
    if (word.kind === "refit" && step) { step.back = !step.back; step.unsent = true; }
    if (word.kind === "item" && item && !word.what.startsWith("price")) item.have = !item.have;
    if (word.kind === "note" && gone) for (const rows of ["steps", "condition"]) all[rows] = all[rows].filter((one) => one.id !== word.id);
  }
  function state(task, all) {
    const done = new Set(all.tasks.filter((t) => t.done).map((t) => t.id)), there = new Set(all.tasks.map((t) => t.id));
    task.waits = task.after.filter((id) => there.has(id) && !done.has(id));
    task.unconsented = Boolean(task.drills && !all.consented);
    if (task.done) return "done";
    if (task.waits.length || task.unconsented) return "waits";
    if (task.gates.some((gate) => !gate.done)) return "gated";
    return task.runs.some((run) => !run.until) ? "running" : "ready";
  }
  function told(word, all) {
    const one = [...all.tasks, ...all.items, ...all.steps, ...all.condition].find((o) => o.id === word.id);
    const words = word.kind === "gate" ? word.part : (one?.title ?? one?.what ?? one?.text ?? word.title ?? word.text ?? word.id);
    const sign = { tick: word.done ? "☑" : "☐", gate: "■", time: word.go ? "start" : "stop", task: "change", item: word.price === undefined ? "have" : "price", note: "note", refit: "refitted", consent: "consent" }[word.kind];
    return `${sign} ${words.length < 44 ? words : words.slice(0, 42) + " …"}`;
  }

  return {
    say, seen, get, put, picture, device, letters, now, url,
    drop: (name) => { delete held[name]; pictures("readwrite", (s) => s.delete(name)).catch(() => {}); },
    watch: (call) => { watching = call; stored().then(watching); send(); },
    refused: () => get("refused", []),
    forget: (n) => { put("refused", get("refused", []).filter((_, m) => m !== n)); watching(); },
    undo: () => seen()?.own.filter((w) => w.stands).pop(),
    redo: () => { const own = seen()?.own ?? []; return own[own.findLastIndex((w) => w.stands) + 1]; },
    said: () => {
      const left = queue().length + waiting();
      const why = denied ? "no access" : "no network";
      if (off) return left ? `${why} · ${left} kept here` : why;
      return trouble.length ? "not saved" : left ? `saving ${left} …` : list ? job_file.state ?? "…" : "…";  // the job's edits are part of what is saved
    },
    trouble: () => [...trouble, ...(job_file.said && !off ? [job_file.said] : []), ...(frail() ? ["This phone keeps nothing: do not close the page before all is saved."] : [])],
    off: () => off,
  };
})();
