// One input bound to a key: it keeps what was typed until the job has taken it.
let held = "";  // which field had the focus last
export default {
  template: `
    <div class="field" :class="{wrong: !!error, assumed: !!assumed && !value, unused: unused}">
      <label :for="fid">{{ label }}<span v-if="required && !value" class="needed"> needed</span></label>
      <div class="entry">
        <select v-if="kind !== 'text'" :id="fid" v-model="mine" @change="send" @focus="lit"
                :aria-describedby="fid + '-note'" :aria-invalid="!!error">
          <option value="">{{ assumed ? 'as assumed: ' + assumed : blank }}</option>
          <option v-for="o in options" :key="o" :value="o">{{ o }}</option>
        </select>
        <input v-else :id="fid" type="text" v-model="mine" autocomplete="off" autocapitalize="off" spellcheck="false"
               :placeholder="assumed" :aria-describedby="fid + '-note'" :aria-invalid="!!error" :list="fid + '-list'"
               @change="send" @keydown.esc="back" @focus="lit">
        <datalist v-if="kind === 'text' && options.length" :id="fid + '-list'">
          <option v-for="o in options" :key="o" :value="o"></option>
        </datalist>
        <button v-if="assumed && !mine && kind === 'text'" type="button" class="quiet" @click="take"
                :aria-label="'Replace the assumed ' + label">change</button>
        <button v-else-if="mine && removable" type="button" class="quiet" @click="clear"
                :aria-label="'Take out ' + label">×</button>
      </div>
      <p class="note" :id="fid + '-note'" :role="error ? 'alert' : null">
        <template v-if="error">✕ {{ error }}</template>
        <template v-else-if="assumed && !value"><b>assumed {{ assumed }}</b> · {{ why }}</template>
        <template v-else-if="understood">understood: <span class="figure">{{ understood }}</span></template>
        <template v-else>{{ hint }}</template>
      </p>
      <p v-if="(error || understood || (assumed && !value)) && hint" class="hint">{{ hint }}</p>
    </div>`,
  props: {
    fid: String, label: String, hint: String, kind: String, options: Array, value: String, understood: String,
    assumed: String, why: String, error: String, required: Boolean, removable: Boolean, blank: String, unused: Boolean,
  },
  data() { return { mine: this.value, sent: this.value, seen: this.value }; },
  watch: {
    // What the job says now, unless something else is being typed here; `seen` is what stood here when that began.
    value(now) {
      if (this.mine === this.sent || document.activeElement?.id !== this.fid) this.mine = this.seen = now;
      this.sent = now;
    },
  },
  mounted() {
    if (held === location.pathname + this.fid && document.activeElement === document.body)
      document.getElementById(this.fid)?.focus({ preventScroll: true });  // the form was built anew under the hand
  },
  methods: {
    send() {
      if (this.mine === this.sent && !this.error) return;
      this.sent = this.mine;
      this.$emit("commit", { value: this.mine, seen: this.seen });
    },
    clear() { this.mine = ""; this.send(); },
    back() { this.mine = this.seen = this.value; },
    lit() { held = location.pathname + this.fid; this.$emit("lit", this.fid); },
    take() {
      this.mine = this.assumed;
      this.$nextTick(() => { const el = document.getElementById(this.fid); el.focus(); el.select(); });
    },
  },
};
