// A drawing that can be taken hold of: the seat height along its scale, or the driver's turn round its ring.
const ENDS = ["pointerup", "pointercancel"];
export default {
  template: `<div class="picture" :class="hold" ref="sheet" @pointerdown="down" @pointermove="move"></div>`,
  props: { svg: String, hold: String, low: Number, high: Number, lit: String },
  mounted() { this.show(); },
  beforeUnmount() { this.up(); },
  watch: { svg() { this.show(); }, lit() { this.light(); } },
  methods: {
    show() {
      this.$refs.sheet.innerHTML = this.svg;
      this.$refs.sheet.dataset.shown = (+(this.$refs.sheet.dataset.shown || 0) + 1).toString();
      this.light();
    },
    light() {
      for (const g of this.$refs.sheet.querySelectorAll("[data-key]"))
        g.classList.toggle("lit", g.dataset.key.split(" ").includes(this.lit));
    },
    at(e) {  // what the pointer says, or null where there is nothing to take hold of
      const svg = this.$refs.sheet.querySelector("svg");
      if (!svg || !this.hold) return null;
      const p = new DOMPoint(e.clientX, e.clientY).matrixTransform(svg.getScreenCTM().inverse());
      if (this.hold === "seat") {
        const box = svg.querySelector("path.bw-band-faint")?.getBBox();
        if (!box) return null;
        if (!this.held && (Math.abs(p.y - box.y - box.height / 2) > 30 || p.x < box.x - 12 || p.x > box.x + box.width + 12))
          return null;
        const share = Math.min(1, Math.max(0, (p.x - box.x) / box.width));
        return this.low + share * (this.high - this.low);
      }
      const ring = [...svg.querySelectorAll("circle.bw-faint")].sort((a, b) => b.r.baseVal.value - a.r.baseVal.value)[0];
      if (!ring) return null;
      const dx = p.x - ring.cx.baseVal.value, dy = ring.cy.baseVal.value - p.y, far = Math.hypot(dx, dy);
      if (!this.held && (far > ring.r.baseVal.value + 34 || far < ring.r.baseVal.value * 0.3)) return null;
      return (Math.atan2(dy, dx) * 180 / Math.PI + 360) % 360;
    },
    down(e) {
      const v = this.held || e.button ? null : this.at(e);
      if (v === null) return;
      e.preventDefault();
      this.held = true;
      this.pointer = e.pointerId;
      this.latest = v;
      this.start = this.hold === "turn" ? v : null;
      this.$refs.sheet.setPointerCapture(e.pointerId);
      for (const name of ENDS) addEventListener(name, this.up);  // wherever it is let go
      this.tell(false);
    },
    tell(end) { this.$emit("drag", { value: this.latest, start: this.start, end }); },
    move(e) {  // at most every 45 ms, and never without the last place
      if (!this.held || e.pointerId !== this.pointer) return;
      if (!e.buttons) { this.up(); return; }  // let go where nobody was told
      this.latest = this.at(e) ?? this.latest;
      this.waiting ??= setTimeout(() => {
        this.waiting = null;
        if (this.held) this.tell(false);
      }, 45);
    },
    up(e) {  // what was shown last is what is meant, whatever the drawing looks like by now
      if (!this.held || (e && e.pointerId !== this.pointer)) return;
      this.held = false;
      for (const name of ENDS) removeEventListener(name, this.up);
      this.tell(true);
    },
  },
};
