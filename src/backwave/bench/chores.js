// Shows the work: a card a task, a line a step, a row a thing to buy; a card is drawn anew only when what it shows changed.
"use strict";
const $ = (id) => document.getElementById(id);
function h(tag, told = {}, ...inside) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(told)) {
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else if (value === true) made.setAttribute(name, "");
    else if (value !== false && value !== undefined && value !== null) made.setAttribute(name, value);
  }
  made.append(...inside.flat().filter((one) => one !== null && one !== undefined && one !== ""));
  return made;
}
const minutes = (n) => { const m = Math.round(n); return m < 60 ? `${m} min` : `${Math.floor(m / 60)} h` + (m % 60 ? ` ${String(m % 60).padStart(2, "0")}` : ""); };
const clock = (when) => {
  const at = new Date(when), day = at.toDateString() === new Date().toDateString() ? "" : at.toLocaleDateString("en-CA") + " ";
  return isNaN(at) ? "" : day + at.toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
};
const place = (all, id) => all.places.find((p) => p.id === id)?.name ?? id;

function fill(into, rows, draw, all) {  // rows by their id, in order, those that are as they were left alone
  const old = new Map([...into.children].map((one) => [one.dataset.id, one]));
  const made = rows.map(([id, shown, ...more]) => {
    const sign = JSON.stringify([shown, ...more]), was = old.get(id);
    if (was?.dataset.sign === sign || (was && was.contains(document.activeElement) && document.activeElement.matches("input:not([type=checkbox])"))) return was;
    const one = draw(shown, all, ...more);
    one.dataset.id = id;
    one.dataset.sign = sign;
    if (was?.open !== undefined && one.matches("details")) one.open = was.open;
    return one;
  });
  const focus = document.activeElement?.dataset?.focus, within = into.contains(document.activeElement);
  if (made.length !== into.children.length || made.some((one, n) => one !== into.children[n])) into.replaceChildren(...made);
  if (within && focus && !into.contains(document.activeElement)) into.querySelector(`[data-focus="${CSS.escape(focus)}"]`)?.focus({ preventScroll: true });
}
const check = (on, words, press, id, can = true) => h("button", {
  type: "button", class: "check", role: "checkbox", "aria-checked": String(on), "aria-label": words, "aria-disabled": can ? null : "true", "data-focus": id,
  onclick: () => can && press(!on),
}, on ? "✓" : "");

// -- to do -------------------------------------------------------------------------------------------------------
function card(task, all) {
  const wait = [...task.waits.map((id) => all.tasks.find((t) => t.id === id)?.title ?? id), ...(task.unconsented ? ["consent to drilling: write it down under Taken apart"] : [])];
  const can = task.done || task.state === "ready" || task.state === "running";
  const running = task.runs.filter((run) => !run.until), took = task.took;
  const meta = [task.who || "anybody", minutes(task.minutes), task.machine_min ? `then runs by itself ${minutes(task.machine_min)}` : ""].filter(Boolean).join(" · ");
  const gone = task.done ? `done ${clock(task.when)}${task.by ? `, ${task.by}` : ""}${took ? `, took ${minutes(took)}` : ""}` : "";
  const tools = [...task.tools, ...task.consumables].join(", ");
  return h("article", { class: `task ${task.state}`, "aria-label": task.title },
    check(task.done, `${task.title}: done`, (done) => tick(task, done), `tick:${task.id}`, can),
    h("div", { class: "tells" },
      h("h3", {}, task.title),
      task.done || !task.why ? "" : h("p", { class: "reason" }, task.why),
      h("p", { class: "note" }, gone || meta, task.unsent ? h("span", { class: "unsent" }, " · kept on this phone") : ""),
      !task.done && wait.length ? h("p", { class: "waits" }, `Waits for: ${wait.join("; ")}`) : "",
      task.done ? "" : task.cautions.map((words) => h("p", { class: "caution" }, h("span", { class: "mark" }, "▲ "), words)),
      task.done || !task.gates.length ? "" : h("div", { class: "gates", role: "group", "aria-label": "Before it begins" },
        h("p", { class: "note" }, "Before you begin, this has to be so:"),
        task.gates.map((gate) => h("label", { class: "gate" },
          h("input", { type: "checkbox", checked: gate.done, disabled: task.state === "waits", "data-focus": `gate:${task.id}:${gate.words}`, onchange: (e) => Keep.say("gate", task.id, { done: e.target.checked }, gate.words) }),
          h("span", {}, gate.words)))),
      task.done || !tools ? "" : h("p", { class: "note" }, `With: ${tools}`),
      running.map((run) => h("p", { class: "running" }, `${run.by || "Somebody"} since ${clock(run.since)}`)),
      h("div", { class: "row" },
        task.state === "ready" || running.length ? h("button", { type: "button", "data-focus": `run:${task.id}`, onclick: () => run(task, running) }, running.length ? "■ Stop the clock" : "▶ Start the clock") : "",
        task.done ? "" : h("button", { type: "button", class: "quiet", "data-focus": `edit:${task.id}`, "aria-label": `Change: ${task.title}`, onclick: () => Forms.change(task.id) }, "Change"))));
}
function tick(task, done) {
  Keep.say("tick", task.id, { done });
}
function run(task, running) {
  if (!running.length) Keep.say("time", task.id, { go: true }, `${Keep.device}-${Keep.letters(6)}`);
  for (const one of running) Keep.say("time", task.id, { go: false }, one.key);
}
function phase(rows, all, name) {
  const done = rows.filter((task) => task.done).length;
  const box = h("details", {}, h("summary", {}, `${name || "Other"}  `, h("span", { class: "note" }, `${done} of ${rows.length} done`)), h("div", { class: "cards" }));
  fill(box.lastChild, rows.map((task) => [task.id, task]), card, all);
  return box;
}
function todo(all) {
  const whole = Keep.get("all", false), able = all.tasks.filter((t) => ["ready", "gated", "running"].includes(t.state));
  $("far").textContent = `${all.tasks.filter((t) => t.done).length} of ${all.tasks.length} done, ${able.length} can be done now`;
  $("now").classList.toggle("here", !whole);
  $("all").classList.toggle("here", whole);
  $("now").setAttribute("aria-pressed", String(!whole));
  $("all").setAttribute("aria-pressed", String(whole));
  const cautions = [...new Set(able.flatMap((t) => t.cautions))];
  fill($("today"), cautions.map((words) => [words, words]), (words) => h("li", {}, words), all);
  document.querySelector(".today").classList.toggle("none", !cautions.length);
  if (whole) {
    const names = [...new Set(all.tasks.map((t) => t.phase))];
    fill($("tasks"), names.map((name) => [`phase:${name}`, all.tasks.filter((t) => t.phase === name), name, all.consented]), (rows, _, told) => phase(rows, all, told), all);
  } else {
    const order = { running: 0, ready: 1, gated: 1 };
    const just = all.tasks.filter((t) => t.done && Date.parse(Keep.now()) - Date.parse(t.when) < 3_600_000).slice(-2);
    const rows = [...able].sort((a, b) => order[a.state] - order[b.state]);
    const cards = [...rows, ...just].map((t) => [t.id, t]);
    fill($("tasks"), cards.length ? cards : [["none", {}]], (t, a) => (t.id ? card(t, a) : h("p", {}, "Everything is done.")), all);
  }
}

// -- the teardown ------------------------------------------------------------------------------------------------
const counted = (step) => [[step.fasteners, "screws"], [step.clips, "clips"]].filter(([n]) => Number.isInteger(n)).map(([n, what]) => `${n} ${what}`).join(", ");
const lacking = () => h("span", { class: "note missing" }, "this picture has not arrived: it waits on the phone that took it, or is gone");
function photos(one, there) {
  return one.photos.map((path, n) => {
    if (!there[n]) return lacking();
    const address = Keep.url(path) ?? `/chores/${path}`;
    const img = h("img", { src: address, alt: `Picture ${n + 1}: ${one.text}`, loading: "lazy", onerror: (e) => e.target.replaceWith(lacking()) });
    return h("a", { href: address, target: "_blank", class: "thumb" }, img);
  });
}
// A row is drawn anew when a picture of it arrives.
const pictured = (rows, all) => rows.map((one) => [one.id, one, one.photos.map((path) => Boolean(Keep.url(path)) || all.there.includes(path))]);
function step(one, all, there) {
  const told = [place(all, one.place), counted(one), `${clock(one.when)}${one.by ? `, ${one.by}` : ""}`].filter(Boolean).join(" · ");
  return h("li", { class: "step" }, h("p", { class: "said" }, one.text), h("p", { class: "note" }, told, one.unsent ? h("span", { class: "unsent" }, " · kept on this phone") : ""), h("div", { class: "thumbs" }, photos(one, there)));
}
function back(one, all, there) {
  const names = [["fasteners", "fasteners_back", "screws", "count"], ["clips", "clips_back", "clips", "clips"]].filter(([out]) => one[out] !== null);
  const inputs = names.map(([out, , what]) => h("input", { inputmode: "numeric", "aria-label": `${what} back in, of ${one[out]}`, placeholder: `of ${one[out]}`, "data-focus": `back:${one.id}:${what}` }));
  const wrong = h("p", { class: "note wrong-words", role: "alert" });
  const press = (done) => {
    const told = {};
    for (const [n, [, , what, key]] of names.entries()) {
      const text = inputs[n].value.trim();
      if (done && !/^\d{1,3}$/.test(text)) { wrong.textContent = `How many ${what} went back in? A whole number.`; inputs[n].focus(); return; }
      if (done) told[key] = Number(text);
    }
    document.activeElement?.blur();
    Keep.say("refit", one.id, { done, ...told });
  };
  const in_ = one.back ? names.map(([out, key, what]) => `${one[key] ?? "?"} of ${one[out]} ${what} back`).join(", ") : "";
  const odd = one.back && names.some(([out, key]) => one[out] !== one[key]);
  return h("li", { class: `step again ${one.back ? "done" : ""}` }, check(one.back, `${one.text}: refitted`, press, `refit:${one.id}`),
    h("div", { class: "tells" }, h("p", { class: "said" }, one.text), h("p", { class: "note" }, place(all, one.place), one.unsent ? h("span", { class: "unsent" }, " · kept on this phone") : ""),
      one.back ? h("p", { class: odd ? "uneven" : "note" }, in_) : h("div", { class: "row" }, names.map(([, , what], n) => h("label", { class: "small" }, `${what} back `, inputs[n]))),
      wrong, h("div", { class: "thumbs" }, photos(one, there))));
}
function apart(all) {
  fill($("before"), pictured(all.condition, all), step, all);
  fill($("steps"), pictured(all.steps, all), step, all);
  const wait = all.tasks.filter((t) => t.drills && !t.done).map((t) => t.title);
  const rows = all.consents.map((one) => [one.id, one]);
  fill($("consents"), rows.length ? rows : [["none", { none: true, wait }]], (one) => one.none
    ? h("p", {}, "Nobody has consented yet.", one.wait.length ? ` These wait for it: ${one.wait.join("; ")}.` : "")
    : h("p", { class: one.given ? "" : "uneven" }, h("strong", {}, one.who), one.given ? " agrees" : " does not agree any more", ` (${clock(one.when)}): ${one.text} `,
      one.given ? h("button", { type: "button", class: "quiet", onclick: () => Keep.say("consent", one.id, { given: false, who: one.who, text: one.text }) }, "Withdraw") : ""), all);
}
function together(all) {
  fill($("back"), pictured([...all.steps].reverse(), all), back, all);
  const sums = {};
  for (const one of all.steps) for (const [out, key, what] of [["fasteners", "fasteners_back", "screws"], ["clips", "clips_back", "clips"]]) {
    if (one[out] === null) continue;
    const sum = (sums[`${one.place}\n${what}`] ??= [place(all, one.place) || "Elsewhere", what, 0, 0]);
    sum[2] += one[out];
    sum[3] += one.back ? (one[key] ?? 0) : 0;
  }
  fill($("counts"), Object.entries(sums), ([where, what, out, in_]) => h("p", { class: out === in_ ? "" : "left" }, `${where}: ${in_} of ${out} ${what} are back in`, out === in_ ? " ✓" : ""), all);
}

// -- to buy ------------------------------------------------------------------------------------------------------
function thing(one) {
  const cost = h("input", { inputmode: "decimal", value: one.price === null ? "" : one.price.toFixed(2), placeholder: "price", "aria-label": `Price: ${one.what} ${one.size}`, "data-focus": `price:${one.id}` });
  const wrong = h("span", { class: "note wrong-words", role: "alert" });
  cost.addEventListener("change", () => {
    const [value, why] = Forms.price(cost.value);
    wrong.textContent = why ?? "";
    if (why) return;
    cost.value = value.toFixed(2);
    Keep.say("item", one.id, { price: value });
  });
  return h("div", { class: `thing ${one.have ? "had" : ""}` }, check(one.have, `${one.what} ${one.size}: is there already`, (have) => Keep.say("item", one.id, { have }), `have:${one.id}`),
    h("div", { class: "tells" }, h("p", { class: "said" }, h("strong", {}, one.amount), ` ${one.what} ${one.size}`), h("p", { class: "note" }, [one.why, one.source].filter(Boolean).join(" · ")), wrong), cost);
}
function buy(all) {
  const groups = [...new Set(all.items.map((i) => i.group))];
  const rows = groups.flatMap((name) => [[`group:${name}`, name], ...all.items.filter((i) => i.group === name).map((i) => [i.id, i])]);
  fill($("items"), rows, (one) => (typeof one === "string" ? h("h2", {}, one) : thing(one)), all);
  const priced = all.items.filter((i) => i.price !== null);
  $("total").textContent = priced.length ? `Prices entered so far: ${priced.reduce((sum, i) => sum + i.price, 0).toFixed(2)}` : "";
}

// -- the whole page ----------------------------------------------------------------------------------------------
function odd(all) {
  const rows = all.findings.filter((f) => f.verdict !== "ok").map((f, n) => [`odd:${n}:${f.title}`, f]);
  fill($("odd"), rows, (f) => h("div", { class: `finding ${f.verdict}` }, h("span", { class: "mark" }, f.seal), h("div", { class: "said" }, h("p", {}, f.title), f.remedy ? h("p", {}, `→ ${f.remedy}`) : "", settle(f, all))), all);
}
function settle(finding, all) {
  const task = finding.title.startsWith("Two say") && all.tasks.find((t) => t.id === finding.about);
  return task ? h("div", { class: "row" }, h("button", { type: "button", onclick: () => Keep.say("tick", task.id, { done: true }) }, "It is done"), h("button", { type: "button", onclick: () => Keep.say("tick", task.id, { done: false }) }, "It is not done")) : "";
}
function alarms() {
  const said = [...Keep.trouble().map((words, n) => [`trouble:${n}`, { words }]), ...Keep.refused().map((r, n) => [`refused:${n}:${r.why}`, { ...r, n }])];
  fill($("alarms"), said, (one) => h("section", { class: "alarm", role: "alert" }, one.words ? h("span", {}, one.words)
    : [h("p", {}, h("strong", {}, "The bench did not take this: "), one.what.title ?? one.what.text ?? one.what.part ?? one.what.id), h("p", {}, one.why), h("button", { type: "button", class: "plain", onclick: () => Keep.forget(one.n) }, "I have read it")]), null);
}
function show() {
  const all = Keep.seen(), state = document.querySelector(".state");
  if (state.textContent !== Keep.said()) state.textContent = Keep.said();
  alarms();
  if (!all) return;
  document.querySelector(".title").textContent = all.title;
  const seal = document.querySelector(".seal");
  seal.textContent = all.seal;
  seal.className = `seal ${all.verdict}`;
  for (const [id, one, word] of [["undo", Keep.undo(), "Undo"], ["redo", Keep.redo(), "Redo"]]) {
    $(id).disabled = !one;
    $(id).title = one?.what ?? "";
    $(id).setAttribute("aria-label", one ? `${word} ${one.what}` : word);
  }
  Forms.choices(all);
  odd(all);
  ({ todo, apart, together, buy })[leaf()](all);
}
const leaf = () => (["todo", "apart", "together", "buy"].includes(location.hash.slice(1)) ? location.hash.slice(1) : "todo");
function turn() {
  for (const one of document.querySelectorAll(".leaf")) one.hidden = one.id !== `leaf-${leaf()}`;
  for (const chip of document.querySelectorAll("#leaves a")) {
    const here = chip.getAttribute("href") === `#${leaf()}`;
    chip.classList.toggle("here", here);
    here ? chip.setAttribute("aria-current", "page") : chip.removeAttribute("aria-current");
  }
  show();
}
