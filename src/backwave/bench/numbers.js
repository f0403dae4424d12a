// Every number of a place as a line that can be asked why.
export default {
  template: `
    <ul class="numbers">
      <li v-for="r in rows" :key="r.id" :class="r.verdict">
        <span class="mark">{{ r.mark }}</span>
        <span class="said">{{ r.said }}</span>
        <span class="row">
          <a class="go" :href="r.why" :aria-label="'Why: ' + r.id">Why?</a>
          <a v-if="r.there" class="go" :href="r.there" :aria-label="'Go to ' + r.id">Go there</a>
        </span>
      </li>
    </ul>`,
  props: { rows: Array },
};
