// What is measured, as pictures to tap: the front view, as one faces it, drawn from a list of features; and the half
// section, in which each length has its place.  A number that is tapped opens to be typed; what was not read is hatched.
const THUMB = 46;  // px, a spot and a little room round it: 44 (WCAG 2.2, 2.5.5)
const WORDS = { hole: "hole", outline: "flange", trim: "grille", lip: "lip" };  // what stands under the number
const KINDS = { stud: "stud", pin: "pin", hook: "clip" };  // of a fixing, by how it holds; another shape is another kind
const AROUND = [60, 120, 300, 240, 0, 180, 90, 270, 30, 150, 210, 330];  // where the number of a ring may stand
const side = (id) => /^#?f-opening-\d+-(left|right)\b/.exec(id)?.[1] ?? "";  // which a field belongs to; "": to both
const polar = (r, deg) => [r * Math.cos(deg * Math.PI / 180), r * Math.sin(deg * Math.PI / 180)];
const clock = (deg) => {
  const halves = Math.round((((90 - deg) % 360) + 360) % 360 / 15) % 24, hour = Math.floor(halves / 2) || 12;
  return halves % 2 ? `${hour}:30` : `${hour} o'clock`;
};
function features(seen) {  // in the order they are measured; on a mirrored side what was read there stands as it is
  const { hole, behind, flange, fixings, trim, lip } = seen.opening, found = [];
  const add = (kind, key, name, told = {}) => {
    const mirrored = seen.mirrored.includes(key.split(".")[0]), s = mirrored ? -1 : 1;
    found.push({ kind, key, name, mirrored, ...told, at: [s * (told.at?.[0] ?? 0), told.at?.[1] ?? 0],
                 points: told.points?.map(([x, y]) => [s * x, y]) });
  };
  add("hole", "hole", "Hole", { mm: hole?.diameter, across: hole?.diameter, points: hole?.outline });
  (behind ?? []).forEach((row, n) => {
    const angle = row.angle ?? null, told = angle === null ? { across: 2 * row.radius } : { at: polar(row.radius, angle) };
    const where = angle === null ? "" : `, at ${clock(seen.mirrored.includes("behind") ? 180 - angle : angle)}`;
    add("reading", `behind.${n}`, `Reading ${n + 1}, ${row.what}${row.window ? `, window ${row.window}` : ""}${where}`,
        { mm: row.clear, deep: true, window: row.window ?? "", ...told });
  });
  const [wide, high] = flange?.ellipse ?? [], oval = wide && Array.from({ length: 72 }, (_, k) => {
    const [x, y] = polar(1, 5 * k);
    return [x * wide / 2, y * high / 2];
  });
  const edge = oval || flange?.outline || flange?.corners;
  add("outline", "flange", "Factory flange", { mm: flange?.diameter, across: flange?.diameter, points: edge });
  for (const [n, row] of Object.entries(fixings ?? {}))
    if (row.x !== null) add(KINDS[row.holds] ?? "fixing", `fixings.${row.n ?? n}`, `Fixing ${+(row.n ?? n) + 1}, ${row.holds}`, { mm: row.hole, across: row.hole, at: [row.x, row.y] });
  if (trim?.grille) add("trim", "trim.grille", "Grille", { mm: trim.grille, across: trim.grille });
  if (lip && hole?.diameter) add("lip", "lip", "Lip", { mm: lip.height, high: true, across: hole.diameter + 2 * lip.width });
  return found;
}
function front(seen, state, width, said, inches) {  // the drawing, and where it is tapped
  const every = features(seen).filter((f) => f.kind !== "reading" || !f.window || f.window === state);
  const far = (f) => Math.max((f.across ?? 0) / 2 + Math.hypot(...f.at), ...(f.points ?? []).map((p) => Math.hypot(...p)));
  const scale = (width / 2 - 34) / Math.max(40, ...every.map(far)), half = width / 2;
  const at = ([x, y]) => [half + x * scale, half - y * scale], to = (points) => points.map((p) => at(p).map((v) => v.toFixed(1)).join(" ")).join("L");
  const inner = scale * Math.max(20, ...every.filter((f) => ["hole", "reading"].includes(f.kind)).map(far));
  const arcs = seen.unread.filter((u) => !u.window || u.window === state).flatMap((u) => u.arcs_deg), out = [], placed = [], spots = {};
  for (const [from, end] of arcs) {
    const ring = Array.from({ length: 61 }, (_, k) => polar(inner / scale, from + (end - from) * k / 60));
    out.push(`<path class="unread" d="M${to(end - from < 360 ? [[0, 0], ...ring] : ring)}Z"/>`);
  }
  for (const hour of [12, 3, 6, 9]) {
    const [x, y] = polar(half - 12, 90 - 30 * hour);
    placed.push([half + x, half - y, 22, 22]);
    out.push(`<text x="${half + x}" y="${half - y + 5}">${hour}</text>`);
  }
  const circle = (c, r, name) => out.push(`<circle class="${name}" cx="${c[0].toFixed(1)}" cy="${c[1].toFixed(1)}" r="${r.toFixed(1)}"/>`);
  for (const f of every) {
    const name = `${f.kind}${f.mirrored ? " other" : ""}`, c = at(f.at);
    if (f.points) out.push(`<path class="${name}" d="M${to(f.points)}Z"/>`);
    else if (f.kind === "reading" && !f.across) circle(c, 4, "dot");
    else if (f.across) circle(c, Math.max(f.across / 2 * scale, 3), name);
    if (["stud", "pin"].includes(f.kind)) circle(c, 2, "dot");
  }
  out.push(`<path class="axis" d="M${half - 12} ${half}H${half + 12}M${half} ${half - 12}V${half + 12}"/>`);
  const grid = Array.from({ length: 1024 }, (_, k) => [(k % 32 + 0.5) * width / 32, (Math.floor(k / 32) + 0.5) * width / 32]);
  const put = (spot, ways, lead) => {  // where there is room for a thumb and its words; else as near as there is
    const wide = Math.max(THUMB, 7.6 * spot.said.length + 14, 6.3 * spot.word.length + 10);
    const free = ([x, y]) => Math.min(x, width - x) >= wide / 2 && Math.min(y, width - y) >= THUMB / 2
      && placed.every(([a, b, w, h]) => Math.abs(x - a) >= (wide + w) / 2 || Math.abs(y - b) >= (THUMB + h) / 2);
    const off = ([x, y]) => Math.hypot(x - ways[0][0], y - ways[0][1]);
    const p = ways.find(free) ?? grid.filter(free).reduce((a, b) => (a && off(a) <= off(b) ? a : b), null) ?? ways[0];
    placed.push([...p, wide, THUMB]);
    const from = lead?.(p);
    if (from && Math.hypot(p[0] - from[0], p[1] - from[1]) > 20) out.push(`<path class="lead" d="M${from.join(" ")}L${p.join(" ")}"/>`);
    spots[spot.key] = { ...spot, x: p[0] / width, y: p[1] / width, wide: wide - 2 };
  };
  const pinned = (f) => !["hole", "outline", "trim", "lip"].includes(f.kind) && !(f.kind === "reading" && f.across);
  const rank = (f) => (!pinned(f) ? 2 : f.kind === "reading" ? 1 : 0);
  for (const f of [...every].sort((a, b) => rank(a) - rank(b))) {
    const [x, y] = at(f.at), mm = f.mm ? said(f.mm) : "", sign = f.deep || f.high ? "" : "\u2300 ";
    const word = WORDS[f.kind] ?? (f.deep ? "deep" : "fixing"), unit = `${mm} ${inches ? "in" : "mm"}`;
    const told = !mm ? "" : f.deep ? `: ${unit} deep` : f.high ? `: ${unit} high` : `: diameter ${unit}`;
    const spot = { key: f.key, name: f.name + told, word, said: mm && sign + mm, state: f.mm || f.points ? "read" : "needed" };
    const around = (d, deg) => { const [dx, dy] = polar(d, deg); return [x + dx, y - dy]; };
    const own = Math.atan2(f.at[1], f.at[0]) * 180 / Math.PI;
    put(spot, pinned(f) ? [26, 48, 70, 92].flatMap((d) => (f.kind === "reading" ? [180, 90, -90, 135, -135, 0] : [0, 90, -90, 45, -45, 180]).map((turn) => around(d, own + turn)))
      : [0, -24, 24, -48, 48].flatMap((d) => AROUND.map((deg) => around(far(f) * scale + d, deg))),
    (p) => (pinned(f) ? [x, y] : f.across && around(f.across / 2 * scale, Math.atan2(y - p[1], p[0] - x) * 180 / Math.PI)));
  }
  for (const [from, end] of arcs) {
    const whole = end - from >= 360, middle = (from + end) / 2 % 360, name = whole ? "all round" : `at ${clock(middle)}`;
    const ways = [0, 15, -15, 40, -40].flatMap((turn) => [0.65, 0.4, 0.9].map((share) => polar(share * inner, middle + turn)));
    put({ key: whole ? "unread.all" : `unread.${middle}`, name: `Not measured ${name}`, word: "unread", said: "", state: "unread" }, ways.map(([dx, dy]) => [half + dx, half - dy]));
  }
  const hatch = '<defs><pattern id="bw-unread" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(-20)"><path d="M0 3H7"/></pattern></defs>';
  const svg = `<svg class="front" viewBox="0 0 ${width} ${width}" role="img" aria-label="The opening from the front, as one faces it">${hatch}${out.join("")}</svg>`;
  const order = [...every.map((f) => f.key), ...Object.keys(spots).filter((key) => key.startsWith("unread."))];
  return { svg, spots: order.map((key) => spots[key]) };
}
export default {
  template: `
    <div class="measured">
      <div class="picture-ways">
        <div v-for="group in ways" :key="group.what" class="chooser" role="group" :aria-label="group.label">
          <button v-for="one in group.all" :key="one" type="button" class="chip" :class="{here: one === group.now}"
                  :aria-pressed="one === group.now" @click="choose(group.what, one)">{{ group.say(one) }}</button>
        </div>
      </div>
      <div class="spots" ref="spots" :class="{worded: !seen}" :style="{maxWidth: width + 'px'}">
        <div class="picture" ref="sheet"></div>
        <button v-for="s in drawn.spots" :key="s.key" type="button" class="spot" :class="[s.state, {lit: s.key === chosen}]"
                :style="{left: 100 * s.x + '%', top: 100 * s.y + '%', width: s.wide ? s.wide + 'px' : null}" :data-spot="s.key" :aria-pressed="s.key === chosen"
                :aria-label="s.name + (!s.said && s.state === 'needed' ? ', not entered' : '')"
                @click="pick(s)"
                @focus="lit = s.key" @pointerenter="lit = s.key" @pointerleave="lit = chosen">
          <b>{{ s.said || (s.state === "read" ? "✓" : "+") }}<small>{{ s.word }}</small></b>
        </button>
      </div>
      <p v-if="seen" class="note unread-words" role="status">{{ unread }}</p>
    </div>`,
  props: { sides: Array, sketch: String, numbers: Object, chosen: String, light: String, inches: Boolean, unreadFirst: Number },
  data: () => ({ lit: "", view: "front", side: side(location.hash), window: "down", width: innerWidth < 760 ? innerWidth - 24 : Math.min(Math.max(innerHeight - 560, 320), 430) }),
  mounted() {
    this.show();
    document.addEventListener("focusin", this.turn);
    window.visualViewport?.addEventListener("resize", this.keys);
  },
  unmounted() { document.removeEventListener("focusin", this.turn); window.visualViewport?.removeEventListener("resize", this.keys); },
  watch: {
    drawn() { this.show(); }, lit() { this.shine(); }, light() { this.shine(); }, chosen(now) { this.lit = now; },
    unreadFirst() {  // to the first side and state in which something was not read
      const seen = this.sides.find((one) => one.unread.length);
      if (!seen) return;
      [this.view, this.side, this.window] = ["front", seen.side, seen.unread[0].window || this.window];
    },
  },
  computed: {
    seen() { return this.view === "front" ? this.sides.find((one) => one.side === this.side) ?? this.sides[0] : undefined; },
    state() { return this.seen?.windows.length ? this.window : ""; },
    drawn() {
      const said = (mm) => `${this.inches ? (mm / 25.4).toFixed(3) : +mm.toFixed(1)}`;
      return this.seen ? front(this.seen, this.state, this.width, said, this.inches) : { svg: this.sketch, spots: this.dimensions };
    },
    unread() {
      const missing = this.drawn.spots.filter((s) => s.state === "unread").map((s) => s.name.toLowerCase()).join("; ");
      const state = this.state ? ` with the window ${this.state}` : "";
      return missing ? `Hatched: ${missing}${state}.` : `Measured all round${state}.`;
    },
    dimensions() {  // of the half section: at the places that stand in it
      const [, , wide, high] = (/viewBox="([^"]+)"/.exec(this.sketch)?.[1] ?? "0 0 1 1").split(" ").map(Number);
      const found = [...this.sketch.matchAll(/data-key="([^"]+)" data-name="([^"]+)" data-at="([\d.]+) ([\d.]+)"/g)];
      return found.flatMap(([, keys, name, x, y]) => {
        const own = keys.split(" ").filter((key) => key in this.numbers), number = own.find((key) => this.numbers[key]) ?? "", said = this.numbers[number] ?? "";
        return own.length ? [{ key: own[0], number, name: name + (said && `: ${said}`), word: name, said, x: x / wide, y: y / high, state: said ? "read" : "needed" }] : [];
      });
    },
    ways() {
      const upper = (one) => one[0].toUpperCase() + one.slice(1), groups = [];
      const add = (what, label, all, now, say = upper) => all.length > 1 && groups.push({ what, label, all, now, say });
      if (this.sides.length) add("view", "View", ["front", "half"], this.view, (one) => (one === "front" ? "Front view" : "Half section"));
      if (this.seen) {
        add("side", "Side", this.sides.map((one) => one.side), this.seen.side);
        add("window", "Window", this.seen.windows, this.window, (one) => (one === this.seen.windows[0] ? `Window ${one}` : upper(one)));
      }
      return groups;
    },
  },
  methods: {
    turn({ target }) { this.side = side(target.id) || this.side; },
    choose(what, one) { this[what] = one; if (this.chosen) this.$emit("pick", { key: this.chosen }); },
    pick({ key, number }) {
      this.$emit("pick", { key, number, side: this.seen?.side ?? "", window: this.state });
      if (innerWidth < 760) this.$refs.spots.scrollIntoView({ block: "start" });  // above the sheet that opens
    },
    keys() {  // the sheet at the bottom of a phone stands on its keyboard
      const { height, offsetTop } = window.visualViewport;
      document.documentElement.style.setProperty("--keyboard", `${Math.max(0, innerHeight - height - offsetTop)}px`);
    },
    show() { this.$refs.sheet.innerHTML = this.drawn.svg; this.shine(); },
    shine() {
      for (const g of this.$refs.sheet.querySelectorAll("[data-key]"))
        g.classList.toggle("lit", g.dataset.key.split(" ").some((key) => key && (key === this.light || key === this.lit)));
    },
  },
};
