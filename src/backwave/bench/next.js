// The next few things to do, the first that settles most a minute; the others stand folded.
const MOST = 5;
const one = `
  <li class="step">
    <div class="said"><b>{{ r.do }}</b>
      <p class="note">{{ r.why }} <span class="figure">· {{ [r.time, r.settles].filter(Boolean).join(" · ") }}</span></p>
    </div>
    <a class="act" :href="r.there" :aria-label="r.act + ': ' + r.do">{{ r.act }}</a>
  </li>`;
export default {
  template: `
    <div class="next">
      <p v-if="!rows.length">Nothing to do that follows from what is entered.</p>
      <ol><template v-for="r in rows.slice(0, ${MOST})" :key="r.do">${one}</template></ol>
      <details v-if="rows.length > ${MOST}">
        <summary>{{ rows.length - ${MOST} }} more</summary>
        <ol :start="${MOST + 1}"><template v-for="r in rows.slice(${MOST})" :key="r.do">${one}</template></ol>
      </details>
    </div>`,
  props: { rows: Array },
};
