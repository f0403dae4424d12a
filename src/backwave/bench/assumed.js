// Values that stand in for what nobody said, each with its ground and the way to its field.
export default {
  template: `
    <div class="rows">
      <div v-for="r in rows" :key="r.key" class="assumption">
        <span class="key">{{ r.key }}</span>
        <span class="figure">{{ r.value }}</span>
        <span class="note">{{ r.why }}</span>
        <a v-if="r.there" class="go" :href="r.there" :aria-label="'Replace ' + r.key">replace</a>
      </div>
    </div>`,
  props: { rows: Array },
};
