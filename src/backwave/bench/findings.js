// What is open, what blocks first; what waits for these answers, and what is ok, stands folded.
const one = `
  <article class="finding" :class="r.verdict">
    <span class="mark">{{ r.mark }}</span>
    <div class="said">
      <h3>{{ r.said }}<span v-if="r.figure" class="note figure"> ({{ r.figure }})</span></h3>
      <p>{{ r.step ? "→ Next " + r.step : r.remedy && "→ " + r.remedy }}
        <a v-if="r.there" :href="r.there" :aria-label="'Go to ' + r.id">Go there</a>
        <span v-for="i in r.ids" :key="i.id" class="which"><span class="id">{{ i.id }}</span>
          <a :href="i.why" :aria-label="'Why: ' + i.id">Why?</a></span>
      </p>
    </div>
  </article>`;
const MOST = 10;  // shown at once; what says stop is never folded
export default {
  template: `
    <div class="findings">
      <p class="tally">{{ none }}</p>
      <template v-for="r in bad.slice(0, most)" :key="r.id">${one}</template>
      <details v-if="bad.length > most">
        <summary>{{ bad.length - most }} more open</summary>
        <template v-for="r in bad.slice(most)" :key="r.id">${one}</template>
      </details>
      <details v-if="waits.length">
        <summary>{{ waits.length }} waiting for these answers</summary>
        <template v-for="r in waits" :key="r.id">${one}</template>
      </details>
      <details v-if="good.length">
        <summary>{{ good.reduce((n, r) => n + r.ids.length, 0) }} checks ok</summary>
        <template v-for="r in good" :key="r.id">${one}</template>
      </details>
    </div>`,
  computed: { most() { return Math.max(MOST, this.bad.filter((r) => r.verdict === "stop").length); } },
  props: { bad: Array, waits: Array, good: Array, none: String },
};
