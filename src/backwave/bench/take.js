// A recording from the phone: a file of its own recorder, or recorded here where the browser leaves the sound alone.
const PIECE = 800000;  // bytes sent at once, as the guard permits
const MOST = 60000000, LONGEST_S = 600;
const KEPT_ON = { echoCancellation: "echo cancelling", noiseSuppression: "noise suppression", autoGainControl: "automatic gain" };
const OFF = Object.fromEntries(Object.keys(KEPT_ON).map((name) => [name, false]));
const CHOICES = { stage: "Recorded of", seat: "Seat", recorder: "Recorded with" };
export default {
  template: `
    <div class="block take">
      <template v-for="(step, k) in steps">
        <h3>{{ k + 1 }}. {{ step.title }}</h3>
        <label v-if="step.kind === 'response'" class="gate"><input type="checkbox" v-model="heard">
          <span>I have heard the right speaker on each output</span></label>
        <p class="note">{{ step.said }}</p>
        <div class="row">
          <button type="button" class="plain" @click="$emit('make', { kind: step.kind, heard })">{{ step.button }}</button>
          <template v-if="made[step.file]">
            <audio controls preload="none" :src="'/take/play/' + step.file + '?' + made[step.file]" :aria-label="step.file"></audio>
            <a class="go" :href="'/take/play/' + step.file" :download="step.file">{{ step.file }}, to take along</a>
          </template>
        </div>
      </template>
      <h3>3. The recording</h3>
      <div v-for="(words, key) in choices" class="chooser" role="group" :aria-label="words">
        <button v-for="(title, id) in options[key]" type="button" :class="chosen[key] === id ? 'chip here' : 'chip'"
                :aria-pressed="String(chosen[key] === id)" @click="picked[key] = id">{{ title }}</button>
      </div>
      <div class="row">
        <label class="file"><span>Send a recording (WAV, FLAC, AIFF)</span>
          <input type="file" accept="audio/*,.wav,.flac,.aif,.aiff" :disabled="busy" @change="pick"></label>
        <button v-if="secure && !on" type="button" :disabled="busy" @click="record">Record here</button>
        <button v-if="on" type="button" class="main" @click="finish">Stop, and send it ({{ seconds }} s)</button>
      </div>
      <p class="note" :class="{wrong: bad}" role="status">{{ said || told }}</p>
      <p v-if="!secure" class="note">Recording in the page itself needs an encrypted address (backwave open --lan --tls CERT KEY) or the
        browser of the bench itself. The phone's own recorder does as well.</p>
      <p class="note">Below 150 Hz a phone's own filters bend what it records: there its readings are compared with each other, before with
        after, and not with the prediction. Set its recorder to WAV, automatic level off.</p>
    </div>`,
  props: { stages: Object, seats: Object, made: Object, told: String },
  data() {
    return {
      busy: false, on: false, said: "", bad: false, seconds: 0, secure: isSecureContext && !!navigator.mediaDevices, heard: false,
      picked: {}, steps: [
        { kind: "beeps", file: "beeps.wav", title: "Which speaker is on which output?", button: "Make the beeps",
          said: "One beep on the first output, two on the second, at \u221240 dB." },
        { kind: "response", file: "sweep.wav", title: "Play the sweep and record it", button: "Make the sweep",
          said: "Begin with the volume low, wear ear protection or stand outside, keep children and animals away. Engine, fan and "
            + "telephones off, doors shut. At the seat, where the middle of the head is: start the recorder, play the whole file, stop. "
            + "Then again with the recorder taken away and put back, and some a hand's breadth round it." },
      ],
    };
  },
  computed: {
    options() { return { stage: this.stages, seat: this.seats, recorder: { phone: "A phone", other: "Another recorder" } }; },
    choices() { return Object.fromEntries(Object.entries(CHOICES).filter(([key]) => Object.keys(this.options[key]).length > 1)); },
    chosen() {
      return Object.fromEntries(Object.entries(this.options).map(([key, held]) =>
        [key, this.picked[key] in held ? this.picked[key] : Object.keys(held)[0] ?? ""]));
    },
  },
  watch: { told() { if (!this.on) this.tell(""); } },  // what is said of a recording that runs stays
  beforeUnmount() { this.close(); },
  methods: {
    tell(said, bad = false) { this.said = said; this.bad = bad; },
    pick(e) {
      const file = e.target.files[0];
      e.target.value = "";
      if (file) this.send(file.name, file);
    },
    async send(name, blob) {
      if (blob.size > MOST) return this.tell(`Not sent: ${Math.round(blob.size / 1e6)} MB; up to ${MOST / 1e6} MB. Cut out the part with the sweep.`, true);
      this.busy = true;
      const id = [...crypto.getRandomValues(new Uint8Array(8))].map((b) => b.toString(16).padStart(2, "0")).join("");
      try {
        for (let at = 0; at < blob.size || at === 0; at += PIECE) {
          this.tell(`Sending ${name}: ${Math.round(100 * at / Math.max(blob.size, 1))} %`);
          const query = new URLSearchParams({ id, name, at, whole: blob.size });
          const answer = await sent(`/take/send?${query}`, blob.slice(at, at + PIECE));
          const told = answer.headers.get("content-type")?.includes("json") ? await answer.json() : { error: await answer.text() };
          if (told.error) return this.tell(`Not taken: ${told.error}`, true);
          if (told.kept) { this.tell(told.there ? `Already there as ${told.kept}.` : `${name} is in the job's folder.`); this.$emit("taken", { file: told.kept, ...this.chosen }); }
        }
      } catch { this.tell("Not sent: the workbench cannot be reached. Try again.", true); } finally { this.busy = false; }
    },
    async record() {
      try {
        this.stream = await navigator.mediaDevices.getUserMedia({ audio: { ...OFF, channelCount: 1 } });
      } catch (e) { return this.tell(`The browser gives no microphone (${e.name}). Permit it for this page, or use the phone's recorder.`, true); }
      const set = this.stream.getAudioTracks()[0].getSettings();
      const on = Object.keys(OFF).filter((name) => set[name] === true), unsaid = Object.keys(OFF).filter((name) => set[name] === undefined);
      if (on.length || unsaid.length) {
        this.close();
        const words = (names) => names.map((name) => KEPT_ON[name]).join(", ");
        return this.tell("Not recorded: this browser " + (on.length ? `keeps ${words(on)} on` : `does not say whether ${words(unsaid)} is off`)
          + ", and that bends the response. Use the phone's own recorder, set to WAV.", true);
      }
      // A processor node rather than a worklet: a worklet is a script without our name, which the page's policy refuses.
      this.context = new AudioContext();
      const node = this.context.createScriptProcessor(16384, 1, 1);
      this.pieces = [];
      node.onaudioprocess = (e) => {
        this.pieces.push(e.inputBuffer.getChannelData(0).slice());
        this.seconds = Math.round(this.pieces.length * 16384 / this.context.sampleRate);
        if (this.seconds > LONGEST_S) this.finish();
      };
      this.context.createMediaStreamSource(this.stream).connect(node);
      node.connect(this.context.destination);  // it gives nothing out; without an end it is not run
      this.on = true;
      this.tell("Recording; echo cancelling, noise suppression and automatic gain are off. Now play the sweep.");
    },
    async finish() {
      const rate = this.context.sampleRate, pieces = this.pieces;
      this.close();
      const stamp = new Date().toISOString().slice(0, 19).replace(/[:T]/g, "-");
      await this.send(`recorded-${stamp}.wav`, wave(pieces, rate));
    },
    close() {
      this.on = false;
      this.stream?.getTracks().forEach((track) => track.stop());
      this.context?.close();
      this.stream = this.context = null;
    },
  },
};
async function sent(address, body) {  // once more where the answer is lost: what came is known by its number
  for (const wait of [500, 1500, 4000, 0]) {
    try {
      const answer = await fetch(address, { method: "POST", body });
      if (answer.status < 500 || !wait) return answer;
    } catch (e) { if (!wait) throw e; }
    await new Promise((done) => setTimeout(done, wait));
  }
}
function wave(pieces, rate) {  // WAV of 32 bit floats: the samples as they came (WAVE format tag 3)
  const bytes = pieces.reduce((sum, piece) => sum + piece.byteLength, 0), head = new DataView(new ArrayBuffer(44));
  const word = (at, text) => [...text].forEach((c, k) => head.setUint8(at + k, c.charCodeAt(0)));
  word(0, "RIFF"); head.setUint32(4, 36 + bytes, true); word(8, "WAVEfmt "); head.setUint32(16, 16, true);
  head.setUint16(20, 3, true); head.setUint16(22, 1, true); head.setUint32(24, rate, true); head.setUint32(28, rate * 4, true);
  head.setUint16(32, 4, true); head.setUint16(34, 32, true); word(36, "data"); head.setUint32(40, bytes, true);
  return new Blob([head, ...pieces], { type: "audio/wav" });
}
