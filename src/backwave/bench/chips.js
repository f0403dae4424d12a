// Which opening and side is shown: chips while they are few, one list to choose from where they are many.
export default {
  template: `
    <nav v-if="rows.length <= most" class="chooser" :aria-label="label">
      <a v-for="r in rows" :key="r.to" :href="r.to" class="chip" :class="[r.verdict, {here: r.here}]"
         :aria-current="r.here ? 'page' : null">{{ r.said }}</a>
    </nav>
    <div v-else class="field choose">
      <label :for="'choose-' + label">{{ label }}</label>
      <div class="entry">
        <select :id="'choose-' + label" :value="(rows.find((r) => r.here) || {}).to" @change="go">
          <option v-for="r in rows" :key="r.to" :value="r.to">{{ r.said }}</option>
        </select>
        <a v-for="s in beside" :key="s.said" class="chip" :href="s.to" :aria-label="s.said">{{ s.sign }}</a>
      </div>
    </div>`,
  props: { rows: Array, label: String, most: Number },
  methods: { go(e) { emitEvent("sub_pages_navigate", e.target.value); } },
  computed: {
    beside() {  // the one before and the one after, for a thumb
      const at = this.rows.findIndex((r) => r.here), many = this.rows.length;
      if (at < 0) return [];
      return [[-1, "‹"], [1, "›"]].map(([step, sign]) => {
        const row = this.rows[(at + step + many) % many];
        return { to: row.to, said: `${step < 0 ? "The one before" : "The next one"}: ${row.said}`, sign };
      });
    },
  },
};
