// The line at the top: what the workbench says of the job, unless something typed here has not reached it.
export default {
  template: `
    <span role="status" :class="{away: own.startsWith('no ')}" :tabindex="(own || words).length > 24 ? 0 : undefined">{{ own || (left.length ? "" : words) }}<template v-for="one in left" :key="one.key">
      not taken: <a :href="one.key">{{ one.label }} {{ one.value || "(taken out)" }}</a>
      <button type="button" class="quiet" :aria-label="'Forget what was typed for ' + one.label" @click="forget(one.key)">×</button>
    </template></span>`,
  props: { words: String, job: String },
  data() { return { own: "", left: [] }; },
  created() {
    backwaveTyped.job = this.job;
    addEventListener(backwaveTyped.EVENT, this.look);
    this.look();
  },
  unmounted() { removeEventListener(backwaveTyped.EVENT, this.look); },
  methods: {
    look() { this.own = backwaveTyped.words(); this.left = backwaveTyped.left(); },
    forget(key) { backwaveTyped.drop(key); },
  },
};
