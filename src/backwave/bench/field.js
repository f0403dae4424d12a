// One input bound to a key: it keeps what was typed until the job has taken it.
let held = "";  // which field had the focus last
export default {
  template: `
    <div class="field" :class="{wrong: !!error, unsent: !!why_not, assumed: !!assumed && !value, unused: unused}">
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
                :aria-label="'Delete ' + label">×</button>
      </div>
      <p class="note" :id="fid + '-note'" :role="error ? 'alert' : null">
        <template v-if="why_not">{{ why_not }}
          <button v-if="waits?.held" type="button" class="quiet" @click="send">Enter it all the same</button></template>
        <template v-else-if="error">✕ {{ error }}</template>
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
  data() {
    const typed = backwaveTyped.of(backwaveTyped.key(this.fid));  // before the page was built anew
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
  },
  created() {
    this.me = `${Date.now()}-${Math.random()}`;
    addEventListener(backwaveTyped.EVENT, this.look);
  },
  unmounted() { removeEventListener(backwaveTyped.EVENT, this.look); },
  mounted() {
    this.look();
    if (held === location.pathname + this.fid && document.activeElement === document.body)
      document.getElementById(this.fid)?.focus({ preventScroll: true });  // the form was built anew under the hand
  },
  methods: {
    send() {
      if (this.mine === this.sent && !this.error && !this.waits?.held) return;
      this.sent = this.mine;
      const seen = this.waits?.held ? this.value : this.seen;
      this.news = false;
      backwaveTyped.begin(this.key(), { from: this.me, fid: this.fid, label: this.label, value: this.mine, seen });
    },
    key() { return backwaveTyped.key(this.fid); },
    look() {  // where it stands with what was entered here: still to be sent, sent, or answered
      const one = backwaveTyped.of(this.key()), wire = backwaveTyped.wire();
      if (!one && this.waits && (this.news || this.waits.held)) {
        if (this.waits.held || (this.mine === this.sent && !this.error)) this.mine = this.seen = this.value;
        this.sent = this.value;
      }
      this.waits = one;
      this.why_not = !one ? "" : one.held ? `Not taken: since then the job says “${this.value}” here.`
        : backwaveTyped.late(one) ? "Not taken yet: it is sent again when the workbench is back." : "";
      if (!one || one.held || !wire || (one.by === wire && (one.from === this.me || !backwaveTyped.old(one)))) return;
      // A workbench started anew knows nothing of what stood here before: over another value, a person decides.
      if (one.from !== this.me && ![one.seen, one.value.trim()].includes(this.value)) {
        backwaveTyped.change(this.key(), { held: true });
        return;
      }
      this.sent = one.value;
      backwaveTyped.change(this.key(), { by: wire, from: this.me, at: Date.now() });
      this.$emit("commit", { value: one.value, seen: one.seen, number: one.number });
    },
    clear() { this.mine = ""; this.send(); },
    back() {
      if (this.waits?.held || (this.waits && !backwaveTyped.wire())) backwaveTyped.drop(this.key());
      this.mine = this.seen = this.value;
    },
    lit() { held = location.pathname + this.fid; this.$emit("lit", this.fid); },
    take() {
      this.mine = this.assumed;
      this.$nextTick(() => { const el = document.getElementById(this.fid); el.focus(); el.select(); });
    },
  },
};
