// The job file as a text, with what is wrong beside its lines; what is typed outlives a reload of the page.
const KEPT = "backwave-repair";
export default {
  template: `
    <div class="repair">
      <div v-if="problems.length" role="alert"><ul class="problems">
        <li v-for="(p, n) in problems" :key="n">
          <button v-if="p.line" type="button" class="quiet" @click="go(p.line)">Line {{ p.line }}</button>
          <span v-else class="mark">{{ p.file }}</span>
          <span class="said"><b>{{ p.key }}</b> {{ p.said }}</span>
        </li>
      </ul></div>
      <label for="repair-text">job.toml</label>
      <div class="paper">
        <div class="gutter" ref="gutter" aria-hidden="true">
          <div v-for="n in count" :key="n" :class="{wrong: wrong.has(n)}">{{ wrong.has(n) ? "✕ " : "" }}{{ n }}</div>
        </div>
        <textarea id="repair-text" ref="text" v-model="mine" wrap="off" spellcheck="false" autocapitalize="off"
                  autocomplete="off" @scroll="follow" @input="keep" aria-describedby="repair-note"></textarea>
      </div>
      <div class="row">
        <button type="button" class="main" @click="$emit('save', mine)">Save it</button>
        <button v-if="mine !== text" type="button" class="plain" @click="back">The file as it is</button>
        <span id="repair-note" role="status" class="note">{{ note }}</span>
      </div>
    </div>`,
  props: { text: String, problems: Array, note: String },
  data() {
    const kept = JSON.parse(sessionStorage.getItem(KEPT) || "null");
    return { mine: kept && kept.text === this.text ? kept.mine : this.text };
  },
  computed: {
    count() { return this.mine.split("\n").length; },
    wrong() { return new Set(this.problems.map((p) => p.line)); },
  },
  watch: { text(now, was) { if (this.mine === was) this.mine = now; } },
  methods: {
    keep() { sessionStorage.setItem(KEPT, JSON.stringify({ text: this.text, mine: this.mine })); },
    back() { this.mine = this.text; sessionStorage.removeItem(KEPT); },
    follow() { this.$refs.gutter.scrollTop = this.$refs.text.scrollTop; },
    go(line) {
      const el = this.$refs.text, lines = this.mine.split("\n"), at = lines.slice(0, line - 1).join("\n").length + (line > 1);
      el.focus();
      el.setSelectionRange(at, at + (lines[line - 1] ?? "").length);
      el.scrollTop = Math.max(0, (line - 4) * parseFloat(getComputedStyle(el).lineHeight));
      el.scrollLeft = 0;
    },
  },
};
