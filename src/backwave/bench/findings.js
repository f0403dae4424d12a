// Findings, worst first; those that wait for an answer above, and those that are ok, stand folded below.
const one = `
  <article class="finding" :class="r.verdict">
    <span class="mark">{{ r.mark }}</span>
    <div class="said">
      <h3>{{ r.said }}</h3>
      <p v-if="r.remedy">→ {{ r.remedy }}</p>
      <div class="row">
        <span v-if="r.figure" class="figure">{{ r.figure }}</span>
        <a class="go" :href="r.why" :aria-label="'Why: ' + r.id">Why?</a>
        <a v-if="r.there" class="go" :href="r.there" :aria-label="'Go to ' + r.id">Go there</a>
      </div>
    </div>
  </article>`;
export default {
  template: `
    <div class="findings">
      <template v-for="r in bad" :key="r.id">${one}</template>
      <p v-if="!bad.length">{{ none }}</p>
      <details v-if="waits.length">
        <summary>{{ waits.length }} that wait for these answers</summary>
        <template v-for="r in waits" :key="r.id">${one}</template>
      </details>
      <details v-if="good.length">
        <summary>{{ good.length }} checks that are ok</summary>
        <template v-for="r in good" :key="r.id">${one}</template>
      </details>
    </div>`,
  props: { bad: Array, waits: Array, good: Array, none: String },
};
