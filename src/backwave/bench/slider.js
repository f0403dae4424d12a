// A slider with the allowed window shaded on its track; it says what it is doing while it moves.
export default {
  template: `
    <div class="slider">
      <label :for="sid">{{ label }} <output class="figure">{{ text }}</output></label>
      <input type="range" :id="sid" :min="least" :max="most" :step="step" ref="bar" :style="shade"
             :aria-valuetext="text" :aria-describedby="sid + '-window'" @input="move(+$event.target.value)" @change="settle">
      <p class="note" :id="sid + '-window'">{{ allowed }}</p>
    </div>`,
  props: { sid: String, label: String, least: Number, most: Number, step: Number, value: Number, low: Number, high: Number,
           unit: String, places: Number, factor: Number, again: Number, judged: Boolean },
  data() { return { mine: this.value, sent: null, since: 0 }; },
  // What the job says, unless the hand is still on it: an answer to an earlier move must not pull it back.
  watch: {
    value(now) {
      const ours = this.sent === null || Math.abs(now - this.sent) < this.step / 2 || performance.now() - this.since > 3000;
      if (this.moving || !ours) return;
      this.sent = null;
      this.mine = now;
    },
    again() { this.sent = null; this.mine = this.value; },  // what was sent was not taken
  },
  mounted() { this.place(); },
  updated() { this.place(); },
  methods: {
    place() { if (+this.$refs.bar.value !== this.mine) this.$refs.bar.value = this.mine; },  // once its ends are in place
    move(value) { [this.mine, this.moving] = [value, true]; this.$emit("slide", { value: this.mine, end: false }); },
    settle() {
      clearTimeout(this.waiting);
      this.waiting = setTimeout(() => {
        [this.moving, this.sent, this.since] = [false, this.mine, performance.now()];
        this.$emit("slide", { value: this.mine, end: true });
      }, 150);
    },
  },
  computed: {
    allowed() {
      const say = (v) => (v * this.factor).toFixed(this.places);
      if (!this.judged) return "Too little was measured to say what is allowed.";
      if (this.low === null || this.low === undefined) return "No value keeps the margins of glass and grille both.";
      return `Glass and grille keep their margins from ${say(this.low)} to ${say(this.high)} ${this.unit} (shaded).`;
    },
    text() { return (this.mine * this.factor).toFixed(this.places) + " " + this.unit; },
    shade() {
      if (this.low === null || this.high === null || this.low === undefined) return {};
      const share = (v) => Math.min(1, Math.max(0, (v - this.least) / (this.most - this.least)));
      const at = (s) => `calc(10px + ${s} * (100% - 20px))`;  // where the middle of a thumb 20 px wide comes to stand
      const [a, b] = [at(share(this.low)), at(Math.max(share(this.high), share(this.low) + 0.01))];
      const fill = (color) => `linear-gradient(to right, transparent ${a}, ${color} ${a}, ${color} ${b}, transparent ${b})`;
      return { "--window": fill("var(--bw-wash)"), "--edges": fill("var(--bw-accent)") };
    },
  },
};
