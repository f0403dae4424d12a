// A table to type in: one row a reading, a fixing, a point; what is added or deleted moves nothing else.
const cell = {
  mixins: [backwaveTyped.field],
  emits: ["commit", "try", "lit"],
  props: { assumed: String, needed: Boolean, wide: Number },
  template: `
    <td :class="{wrong: !!error || !!why_not, assumed: !!assumed && !mine}">
      <select v-if="kind !== 'text'" :id="fid" v-model="mine" @change="send" @focus="lit" :aria-label="label"
              :aria-invalid="!!error" :aria-describedby="error ? fid + '-note' : null">
        <option value="">{{ assumed ? assumed + ' (assumed)' : '' }}</option>
        <option v-for="o in choices" :key="o" :value="o">{{ o }}</option>
      </select>
      <input v-else :id="fid" type="text" v-model="mine" autocomplete="off" autocapitalize="off" spellcheck="false"
             :size="wide" :placeholder="assumed || (needed ? 'needed' : '')" :aria-label="label" :aria-invalid="!!error"
             :aria-describedby="error ? fid + '-note' : null" :list="options.length ? fid + '-list' : null"
             @change="send" @keydown.esc="back" @focus="lit">
      <datalist v-if="kind === 'text' && options.length" :id="fid + '-list'">
        <option v-for="o in options" :key="o" :value="o"></option>
      </datalist>
      <p v-if="error || why_not" class="note" :id="fid + '-note'" role="alert">
        <template v-if="why_not">{{ why_not }}
          <button v-if="waits?.held" type="button" class="quiet" @click="send">Enter it all the same</button></template>
        <template v-else>✕ {{ error }}</template></p>
    </td>`,
};
export default {
  components: { cell },
  template: `
    <div class="rows-table">
      <div class="scroll" role="region" :aria-label="label" tabindex="-1">
        <table>
          <thead v-if="shown.length"><tr><th v-if="many" scope="col" class="unseen-col"><span class="unseen">Row</span></th>
            <th v-for="c in columns" v-show="seen(c)" :key="c.key" scope="col" :title="c.hint">{{ c.label }}</th>
            <th v-if="removable" scope="col"><span class="unseen">Delete</span></th></tr></thead>
          <tbody><tr v-for="(r, n) in shown" :key="n" :class="{lit: lit === n, fresh: r.fresh}">
            <th v-if="many" scope="row">{{ n + 1 }}</th>
            <cell v-for="c in columns" v-show="seen(c)" :key="c.key" :fid="id(n, c)" :label="one(n) + ': ' + c.label" :kind="c.kind"
                  :options="c.options" :value="r.cells[c.key] ?? ''" :error="r.errors[c.key] ?? ''" :assumed="c.assumed"
                  :needed="c.needed" :wide="c.wide" :tries="tries" @commit="(a) => say('commit', n, c, a)"
                  @try="(a) => say('try', n, c, a)" @lit="() => say('lit', n, c, {})"></cell>
            <td v-if="removable"><button type="button" class="quiet" :aria-label="'Delete ' + one(n)" @click="drop(n)">×</button></td>
          </tr></tbody>
        </table>
      </div>
      <div class="row">
        <button v-if="many" type="button" class="plain" ref="more" @click="add">+ {{ row }}</button>
        <button v-if="folded.length" type="button" class="add" @click="open = true">More columns: {{ folded.join(", ") }}</button>
      </div>
    </div>`,
  props: {
    fid: String, label: String, row: String, columns: Array, rows: Array, many: Boolean, removable: Boolean, lit: Number,
    tries: Boolean,
  },
  data() {  // a link may lead to a cell that is folded
    const there = location.hash.slice(1);
    return { adding: false, open: this.columns.some((c) => c.rare && there.startsWith(`${this.fid}-`) && there.endsWith(`-${c.key}`)) };
  },
  computed: {
    folded() { return this.columns.filter((c) => !this.seen(c)).map((c) => c.label.toLowerCase()); },
    shown() {
      const fresh = { cells: {}, errors: {}, fresh: true };
      return (this.adding && !this.rows.some((r) => r.fresh)) || (!this.rows.length && !this.many) ? [...this.rows, fresh] : this.rows;
    },
  },
  watch: {  // what was begun is in the job now
    rows(now, was) { if (was.some((r) => r.fresh) || now.length > was.length) this.adding = false; },
  },
  methods: {
    id(n, c) { return this.many ? `${this.fid}-${n}-${c.key}` : `${this.fid}-${c.key}`; },
    seen(c) { return this.open || !c.rare || this.rows.some((r) => r.cells[c.key] || r.errors[c.key]); },
    one(n) { return this.many ? `${this.row} ${n + 1}` : this.label; },
    say(what, n, c, told) { this.$emit(what, { ...told, row: n, key: c.key }); },
    add() {  // the focus goes to the first cell of the row that is begun; one begun already is gone on with
      this.adding = true;
      this.$nextTick(() => document.getElementById(this.id(this.shown.length - 1, this.columns[0]))?.focus());
    },
    drop(n) {
      if (this.shown[n].fresh) this.adding = false;
      this.$emit("drop", { row: n });
      this.$nextTick(() => this.$refs.more?.focus({ preventScroll: true }));
    },
  },
};
