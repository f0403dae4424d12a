// What is typed on the page: kept as it is typed, said when it is whole.
"use strict";
const Forms = (() => {
  const whole = (text, most) => (text.trim() === "" ? [null, null] : /^\d+$/.test(text.trim()) && Number(text) <= most ? [Number(text), null] : [null, "A whole number, or nothing."]);
  const time = (text) => {
    if (text.trim() === "") return [null, null];
    const value = Number(text.trim().replace(",", "."));
    return value > 0 && value < 10080 ? [value, null] : [null, "Minutes: more than 0, less than a week."];
  };
  function price(text) {  // as the bench reads it: the last mark before one, two or four digits parts the cents
    const given = text.trim().replace(/(\d)[ \u00a0\u202f'’](?=\d{3}(\D|$))/g, "$1");
    if (/^[1-9]\d{0,2}[.,]\d{3}$/.test(given)) return [null, `May be read in two ways: ${given.replace(/\D/, "")}.00 or ${given.replace(",", ".")}0`];
    for (const [group, mark] of [[",", "."], [".", ","]]) {
      const g = `\\${group}`, d = `\\${mark}`;
      if (new RegExp(`^([1-9]\\d{0,2}(${g}\\d{3})+(${d}\\d{1,4})?|\\d{1,9}(${d}\\d{1,4})?)$`).test(given)) return [Number(given.replaceAll(group, "").replace(mark, ".")), null];
    }
    return [null, "A number alone, such as 3.50 or 3,50"];
  }
  const MOST = 4000;  // letters, as the log takes them
  const long = (text) => ([...text].length > MOST ? `${[...text].length} letters. Accepted: at most ${MOST}; nothing was cut.` : null);
  const wrong = (form, words) => { form.querySelector(".wrong-words").textContent = words ?? ""; };
  const pictures = (form, names) => {  // the names of a form's pictures, kept like what is typed
    const name = `draft:${form.dataset.draft}:photos`;
    if (names) Keep.put(name, names);
    return Keep.get(name, []);
  };

  function thumbs(form) {
    const names = pictures(form), into = form.querySelector(".thumbs");
    into?.replaceChildren(...names.map((name, n) => h("span", { class: "thumb" }, h("img", { src: Keep.url(name), alt: `Picture ${n + 1}` }), h("button", { type: "button", class: "quiet", "aria-label": `Leave picture ${n + 1} out`, onclick: () => { pictures(form, names.filter((one) => one !== name)); Keep.drop(name); thumbs(form); } }, "×"))));
  }
  async function taken(event) {
    const form = event.target.form, files = [...event.target.files];
    event.target.value = "";
    wrong(form, "");
    for (const file of files) {
      try { const name = await Keep.picture(file); pictures(form, [...pictures(form), name]); }
      catch { wrong(form, `${file.name} is no picture that this phone can read.`); }
      thumbs(form);
    }
  }
  const id = () => `${Keep.device}-${Keep.letters(8)}`;
  const kinds = {
    new(form, told) {
      const [took, why] = time(told.minutes);
      if (why) return why;
      Keep.say("task", `own-${id()}`, { title: told.title, ...(told.who ? { who: told.who } : {}), ...(took ? { minutes: took } : {}), after: told.after ? [told.after] : [] });
    },
    before(form, told) {
      Keep.say("note", id(), { about: "condition", text: told.text, ...(told.place ? { place: told.place } : {}), photos: pictures(form) });
    },
    consent(form, told) {
      Keep.say("consent", id(), { given: true, who: told.who, text: told.text });
    },
    step(form, told) {
      const [count, a] = whole(told.count, 999), [clips, b] = whole(told.clips, 999);
      if (a || b) return a ?? b;
      Keep.say("note", id(), { text: told.text, ...(told.place ? { place: told.place } : {}), ...(count !== null ? { count } : {}), ...(clips !== null ? { clips } : {}), photos: pictures(form) });
    },
  };
  for (const form of document.querySelectorAll("form[data-draft]")) {
    const name = `draft:${form.dataset.draft}`, fields = [...form.elements].filter((one) => one.name);
    for (const one of fields) one.value = Keep.get(name, {})[one.name] ?? one.value;
    const keep = () => Keep.put(name, Object.fromEntries(fields.map((one) => [one.name, one.value])));
    form.addEventListener("input", keep);
    for (const one of form.querySelectorAll("input[type=file]")) one.addEventListener("change", taken);
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      const told = Object.fromEntries(fields.map((one) => [one.name, one.value.trim()]));
      const missing = fields.find((one) => one.required && !told[one.name]);
      const why = missing ? "There is nothing written yet." : fields.map((one) => long(told[one.name])).find(Boolean) ?? kinds[form.dataset.draft](form, told);
      wrong(form, why);
      if (why) return;
      for (const one of fields) if (one.name !== "place") one.value = "";
      pictures(form, []);
      thumbs(form);
      keep();
      if (form.closest("details")) form.closest("details").open = false;
      else fields[0].focus({ preventScroll: true });
    });
  }

  const redraw = () => { for (const form of document.querySelectorAll("form[data-draft]")) if (form.querySelectorAll(".thumbs img[src]").length !== pictures(form).length) thumbs(form); };

  // -- a task changed ----------------------------------------------------------------------------------------
  const box = $("change"), edit = box.querySelector("form");
  let open = null, before = [], all = null;
  function chips() {
    const title = (name) => all.tasks.find((t) => t.id === name)?.title ?? name;
    $("change-after").replaceChildren(...before.map((name) => h("p", { class: "row" }, h("span", { class: "said" }, title(name)), h("button", { type: "button", class: "quiet", "aria-label": `Not after: ${title(name)}`, onclick: () => { before = before.filter((one) => one !== name); chips(); } }, "×"))));
    options($("change-more"), [["", "one more …"], ...all.tasks.filter((t) => t.id !== open.id && !before.includes(t.id)).map((t) => [t.id, t.title])]);
  }
  $("change-more").addEventListener("change", (event) => { if (event.target.value) before = [...before, event.target.value]; chips(); });
  function change(name) {
    all = Keep.seen();
    open = all.tasks.find((t) => t.id === name);
    before = [...open.after];
    edit.elements.title.value = open.title;
    edit.elements.who.value = open.who;
    edit.elements.minutes.value = open.minutes;
    wrong(edit, "");
    chips();
    box.showModal();
  }
  function around(name) {  // the ring a task would wait in, through others; null where there is none
    const tasks = Object.fromEntries(all.tasks.map((t) => [t.id, t.id === open.id ? before : t.after]));
    const walk = (one, path) => (path.includes(one) ? [...path, one] : (tasks[one] ?? []).map((next) => walk(next, [...path, one])).find(Boolean) ?? null);
    const seen = new Set();
    const quick = (one, path) => { if (one === name && path.length) return [...path, one]; if (seen.has(one)) return null; seen.add(one); for (const next of tasks[one] ?? []) { const found = quick(next, [...path, one]); if (found) return found; } return null; };
    return tasks[name].includes(name) ? walk(name, []) : quick(name, []);
  }
  edit.addEventListener("submit", (event) => {
    const how = event.submitter?.value;
    if (how === "leave") return;
    if (how === "drop") { Keep.say("task", open.id, { drop: true }); return; }
    const [took, why] = time(edit.elements.minutes.value), title = edit.elements.title.value.trim();
    const ring = around(open.id), named = (name) => all.tasks.find((t) => t.id === name)?.title ?? name;
    const odd = why ?? long(title) ?? long(edit.elements.who.value.trim()) ?? (title ? null : "A task needs its words.") ?? (ring ? `These would wait for each other: ${ring.map(named).join(" → ")}` : null);
    if (odd) { event.preventDefault(); wrong(edit, odd); return; }
    const said = {};
    if (title !== open.title) said.title = title;
    if (edit.elements.who.value.trim() !== open.who) said.who = edit.elements.who.value.trim();
    if (took && took !== open.minutes) said.minutes = took;
    if (JSON.stringify(before) !== JSON.stringify(open.after)) said.after = before;
    if (Object.keys(said).length) Keep.say("task", open.id, said);
  });

  // -- what there is to choose from ---------------------------------------------------------------------------
  function options(into, rows) {
    const sign = JSON.stringify(rows);
    if (into.dataset.sign === sign) return;
    const was = into.value;
    into.replaceChildren(...rows.map(([value, words]) => h("option", { value }, words)));
    into.dataset.sign = sign;
    if (rows.some(([value]) => value === was)) into.value = was;
  }
  function choices(all) {
    redraw();
    const me = Keep.get("me", "");
    const people = [...new Set([...all.people, me].filter(Boolean))];
    options($("me"), [["", "who?"], ...people.map((p) => [p, p]), ["+", "somebody else"]]);
    if (document.activeElement !== $("me") && $("me-else").hidden) $("me").value = me;
    options($("people"), people.map((p) => [p, p]));
    for (const name of ["before-place", "step-place"]) {
      options($(name), [["", "anywhere"], ...all.places.map((p) => [p.id, p.name])]);
      const draft = Keep.get(`draft:${name.split("-")[0]}`, {}).place;
      if (draft && !$(name).value) $(name).value = draft;
    }
    options($("new-after"), [["", "any time"], ...all.tasks.map((t) => [t.id, t.title])]);
  }
  $("me").addEventListener("change", (event) => {
    $("me-else").hidden = event.target.value !== "+";
    if (event.target.value === "+") $("me-else").focus();
    else Keep.put("me", event.target.value);
  });
  $("me-else").addEventListener("change", (event) => { const name = event.target.value.trim(); event.target.setCustomValidity(long(name) ?? ""); if (!event.target.reportValidity()) return; Keep.put("me", name); event.target.hidden = true; show(); });
  $("now").addEventListener("click", () => { Keep.put("all", false); show(); });
  $("all").addEventListener("click", () => { Keep.put("all", true); show(); });
  for (const [name, done, which] of [["undo", true, Keep.undo], ["redo", false, Keep.redo]]) {
    $(name).addEventListener("click", () => { const one = which(); if (one) Keep.say("back", one.key, { done }); });
  }
  addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.target.matches("input, textarea")) return;
    const key = event.key.toLowerCase();
    if (key === "z" || key === "y") { event.preventDefault(); $(key === "y" || event.shiftKey ? "redo" : "undo").click(); }
  });
  $("theme").addEventListener("click", () => backwaveTheme());
  return { change, choices, price };
})();
addEventListener("hashchange", turn);
turn();
Keep.watch(show);
document.querySelector(".places > .here")?.scrollIntoView({ inline: "center", block: "nearest" });  // in a row that runs off a phone's edge
