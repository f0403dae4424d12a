// A chart that can be read off: by the pointer over it, or by the slider under its heading.
export default {
  template: `
    <div class="plot">
      <div class="reading">
        <label :for="pid">Read off at <output class="figure">{{ hz(f[n]) }}</output></label>
        <input type="range" :id="pid" min="0" :max="f.length - 1" step="1" v-model.number="n" :aria-valuetext="spoken">
        <ul aria-hidden="true"><li v-for="(l, i) in lines" :key="i">{{ l.name }}: <b class="figure">{{ value(l) }}</b></li></ul>
      </div>
      <div ref="sheet" class="sheet" @pointermove="over" @pointerdown="over"></div>
    </div>`,
  props: { pid: String, svg: String, f: Array, lines: Array, lowHz: Number, highHz: Number, unit: String, places: Number },
  data() { return { n: 0 }; },
  mounted() { this.n = this.nearest(100); this.show(); },
  watch: {
    svg() { this.show(); },
    n() { this.mark(); },
    f(now, was) { this.n = this.nearest(was[Math.min(this.n, was.length - 1)]); },
  },
  computed: {
    spoken() { return this.hz(this.f[this.n]) + "; " + this.lines.map((l) => `${l.name}: ${this.value(l)}`).join("; "); },
  },
  methods: {
    hz(f) { return f === undefined ? "" : (f < 100 ? f.toFixed(1) : f < 10000 ? f.toFixed(0) : (f / 1000).toFixed(1) + "k") + " Hz"; },
    value(l) {
      const say = (v) => v.toFixed(this.places).replace("-", "\u2212");
      const [v, low, high] = [l.value?.[this.n], l.low?.[this.n], l.high?.[this.n]].map((x) => (x === undefined ? null : x));
      const band = low === null || high === null ? "" : `${say(low)} … ${say(high)}`;
      const note = l.note?.[this.n] ? ` (${l.note[this.n]})` : "";
      if (v === null) return band ? `${band} ${this.unit}` : "no line here";
      return `${say(v)} ${this.unit}` + (band ? `, ${band}` : "") + note;
    },
    nearest(hz) {
      let best = 0;
      this.f.forEach((f, i) => { if (Math.abs(Math.log(f / hz)) < Math.abs(Math.log(this.f[best] / hz))) best = i; });
      return best;
    },
    show() { this.$refs.sheet.innerHTML = this.svg; this.mark(); },
    area() { return this.$refs.sheet.querySelector("path.bw-plate")?.getBBox(); },
    mark() {
      const svg = this.$refs.sheet.querySelector("svg"), box = this.area();
      if (!svg || !box) return;
      const x = box.x + box.width * Math.log(this.f[this.n] / this.lowHz) / Math.log(this.highHz / this.lowHz);
      const line = svg.querySelector(".cursor") || svg.appendChild(document.createElementNS(svg.namespaceURI, "path"));
      line.setAttribute("class", "cursor change");
      line.setAttribute("d", `M${x} ${box.y}V${box.y + box.height}`);
    },
    over(e) {
      const svg = this.$refs.sheet.querySelector("svg"), box = this.area();
      if (!svg || !box) return;
      const p = new DOMPoint(e.clientX, e.clientY).matrixTransform(svg.getScreenCTM().inverse());
      if (p.x < box.x || p.x > box.x + box.width || p.y < box.y || p.y > box.y + box.height) return;
      this.n = this.nearest(this.lowHz * (this.highHz / this.lowHz) ** ((p.x - box.x) / box.width));
    },
  },
};
