// Bars to practise: looped, written, told right or wrong, and again.

import { Draft } from "./draft.js";
import { listenToKeys } from "./shortcuts.js";
import { ask } from "./server.js";
import { followVolume, Player, whyNoSound } from "./player.js";
import { setUpWriting } from "./writing.js";

/** @param {string} id */
const byId = (id) => /** @type {any} */ (document.getElementById(id));
const main = byId("main");
const { exercise, leadIn = "", error } = main.dataset;
const text = /** @type {HTMLTextAreaElement | null} */ (byId("text"));
const player = new Player(byId("song"));
const tonic = /** @type {HTMLAudioElement} */ (byId("tonic"));
let loop = [Number(main.dataset.loopStart), Number(main.dataset.loopEnd)];

/** @param {string} text @param {boolean} [wrong] */
function say(text, wrong = false) {
  if (!byId("status")) return;
  byId("status").textContent = text;
  byId("status").classList.toggle("wrong", wrong);
}

followVolume(byId("volume"), [player.audio, tonic]);
if (error) say(`There is no sound: ${error}`, true);

const mark = () => (byId("play").querySelector(".what").textContent = player.isPlaying ? "Stop" : "Play in a loop");
for (const name of ["playing", "pause"]) player.addEventListener(name, mark);
// A page that was busy at the end of the loop has let the sound play out.
player.addEventListener("ended", () => {
  player.seek(0);
  player.play().catch(mark);
});

/** @param {Error} problem */
const tell = (problem) => say(problem.message, true);

/** Count a listen of the try under way. */
async function count() {
  if (!byId("token")) return;
  const query = new URLSearchParams({ speed: byId("speed").value, token: byId("token").value });
  await ask(`/write/${exercise}/listen?${query}`, { method: "POST" });
}

async function play() {
  tonic.pause();
  try {
    player.loop = loop;
    await player.play();
    await count();
  } catch (problem) {
    say(player.audio.error ? await whyNoSound(player.audio) : /** @type {Error} */ (problem).message, true);
  }
}

byId("play").addEventListener("click", () => (player.isPlaying ? player.stop() : play()));
byId("play-tonic").addEventListener("click", async () => {
  player.pause();
  tonic.currentTime = 0;
  await tonic.play().catch(async () => say(await whyNoSound(tonic), true));
});
byId("speed").addEventListener("change", async () => {
  const goesOn = player.isPlaying;
  try {
    const sound = await (await ask(`/bars/${exercise}/sound?speed=${byId("speed").value}`)).json();
    player.load(sound.url);
    loop = [sound.loop_start_s, sound.loop_end_s];
    if (goesOn) await play();
  } catch (problem) {
    tell(/** @type {Error} */ (problem));
  }
});

/** @param {HTMLTextAreaElement} area where the bars are written */
function setUpForm(area) {
  const stored = area.value;
  let draft = new Draft(main.dataset, stored.trim() === leadIn.trim() ? "" : stored, "");
  /** The listen of the try under way, being counted. @type {Promise<void>} */
  let counted = Promise.resolve();
  const { field, preview, editor } = setUpWriting(exercise ?? "", draft.text || stored, say);
  field.addEventListener("change", () => {
    // What was told of the last try would tell what to write in this one.
    byId("told").replaceChildren();
    say("");
    draft.update(field.text);
  });

  byId("form").addEventListener("submit", async (/** @type {SubmitEvent} */ event) => {
    event.preventDefault();
    if (editor.isOpen) editor.close("away");
    byId("hand-in").disabled = true;
    try {
      const body = new URLSearchParams(/** @type {any} */ (new FormData(byId("form"))));
      await counted;
      const answer = await (await ask(`/bars/${exercise}`, { method: "POST", body })).json();
      draft.end();
      byId("token").value = answer.token;
      draft = new Draft({ ...main.dataset, token: answer.token }, "", "");
      byId("told").innerHTML = answer.told;
      for (const [number, state] of document.querySelectorAll(".stretches small").entries()) state.textContent = answer.states[number];
      say("");
      field.load(leadIn);
      preview.draw();
      // The band that goes on is heard in the next try, too.
      if (player.isPlaying) counted = count().catch(tell);
    } catch (problem) {
      tell(/** @type {Error} */ (problem));
    }
    byId("hand-in").disabled = false;
    area.focus({ preventScroll: true });
  });

  preview.draw();
  if (matchMedia("(hover: hover)").matches) area.focus({ preventScroll: true });
}

if (text) setUpForm(text);
else listenToKeys(() => true);
addEventListener("pageshow", (event) => event.persisted && location.reload());
