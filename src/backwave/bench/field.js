// One input bound to a key: it keeps what was typed until the job has taken it.
export default {
  template: `
    <div class="field" :class="{wrong: !!error, unsent: !!why_not, assumed: !!assumed && !value, unused: unused}">
      <label :for="fid">{{ label }}<span v-if="required && !value" class="needed"> needed</span></label>
      <div class="entry">
        <select v-if="kind !== 'text'" :id="fid" v-model="mine" @change="send" @focus="lit"
                :aria-describedby="fid + '-note'" :aria-invalid="!!error">
          <option value="">{{ assumed ? 'as assumed: ' + assumed : blank }}</option>
          <option v-for="o in choices" :key="o" :value="o">{{ o }}</option>
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
  mixins: [backwaveTyped.field],
  props: {
    hint: String, understood: String, assumed: String, why: String, required: Boolean, removable: Boolean, blank: String,
    unused: Boolean,
  },
  methods: {
    take() {
      this.mine = this.assumed;
      this.$nextTick(() => { const el = document.getElementById(this.fid); el.focus(); el.select(); });
    },
  },
};
