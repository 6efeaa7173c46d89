// The buttons of the band: listens, speed, loop, the 1.

import { Listens } from "./listens.js";
import { ask, Refused } from "./server.js";
import { clock, followVolume, Player, whyNoSound } from "./player.js";
import { SongSpeed } from "./song_speed.js";

/** @param {string} id */
const byId = (id) => /** @type {any} */ (document.getElementById(id));

/**
 * @param {HTMLElement} main the page, with what it says of the drill
 * @param {import("./draft.js").Draft} draft
 * @param {(text: string, wrong?: boolean) => void} say
 */
export function setUpTransport(main, draft, say) {
  const player = new Player(byId("song"));
  const listens = new Listens(main.dataset, player);
  const tonic = /** @type {HTMLAudioElement} */ (byId("tonic"));
  const { exercise } = main.dataset;
  const songSpeed = new SongSpeed(exercise ?? "", (main.dataset.speeds ?? "").split(" ").map(Number), player, listens);
  let isRevived = false;
  const isTest = "test" in main.dataset;
  followVolume(byId("volume"), [player.audio, tonic]);
  if (main.dataset.error) say(`There is no sound: ${main.dataset.error}`, true);

  const isOnTheWay = () => player.isOnTheWay || player.isPlaying || songSpeed.isChanging || listens.goesOnAt !== null;

  const show = () => {
    const { audio } = player;
    const { left } = listens;
    byId("position").textContent = clock(audio.currentTime);
    if (Number.isFinite(audio.duration)) byId("duration").textContent = clock(audio.duration);
    const onTheWay = isOnTheWay();
    label("play", player.isPlaying ? (isTest ? "Playing" : "Pause") : onTheWay ? "Continue" : "Play");
    byId("play").disabled = (!onTheWay && left === 0) || (isTest && player.isPlaying);
    for (const name of ["stop", "back"]) if (byId(name)) byId(name).disabled = !onTheWay;
    byId("slower").disabled = !songSpeed.canSlow;
    byId("faster").disabled = !songSpeed.canQuicken;
    byId("speed").textContent = `${songSpeed.wanted}%`;
    if (left !== null) byId("listens").textContent = `${left} listen${left === 1 ? "" : "s"} left`;
    showLoop();
  };

  const showLoop = () => {
    if (!byId("loop")) return;
    const { loop } = player;
    label("loop", !loop ? "Loop from here" : loop[1] === null ? "Loop to here" : "Loop off");
    byId("loop-range").textContent = !loop ? "" : `${clock(loop[0])} to ${loop[1] === null ? "…" : clock(loop[1])}`;
  };

  const count = async () => {
    try {
      await listens.begin();
    } catch (error) {
      player.stop();
      if (error instanceof Refused && error.data.listens_left === 0) {
        listens.left = 0;
        say("That was your last listen. Write what you remember and hand it in.");
      } else say(/** @type {Error} */ (error).message, true);
    }
    show();
  };

  const play = async () => {
    const isNew = !isOnTheWay();
    tonic.pause();
    if (isNew && listens.left === 0) return;
    try {
      await player.play();
      if (isNew) {
        draft.begin();
        await count();
      } else if (listens.goesOnAt !== null) listens.goOn();
    } catch {
      say(await whyNoSound(player.audio), true);
    }
  };

  byId("play").addEventListener("click", () => {
    if (!player.isPlaying) return play();
    player.pause();
    draft.paused = true;
  });
  byId("stop")?.addEventListener("click", () => {
    if (player.isPlaying || player.isOnTheWay) draft.paused = true;
    listens.giveUp();
    player.stop();
    show();
  });
  byId("back")?.addEventListener("click", () => player.seek(player.audio.currentTime - 5));
  byId("play-tonic").addEventListener("click", async () => {
    tonic.currentTime = 0;
    await tonic.play().catch(async () => say(await whyNoSound(tonic), true));
  });
  byId("loop")?.addEventListener("click", () => {
    const now = player.audio.currentTime;
    if (!player.loop) player.loop = [now, null];
    else if (player.loop[1] === null && now > player.loop[0] + 0.3) player.loop = [player.loop[0], now];
    else player.loop = null;
    show();
  });

  const change = async (/** @type {number} */ steps) => {
    const underWay = isOnTheWay();
    if (underWay) draft.paused = true;
    try {
      const changed = songSpeed.change(steps, underWay);
      show();
      const speed = await changed;
      if (speed) say(`Speed ${speed}%`);
    } catch (error) {
      say(/** @type {Error} */ (error).message, true);
    }
    show();
  };
  byId("slower").addEventListener("click", () => change(1));
  byId("faster").addEventListener("click", () => change(-1));

  for (const name of ["playing", "pause", "ended", "time", "loadedmetadata"]) player.addEventListener(name, show);
  listens.addEventListener("message", (event) => say(/** @type {CustomEvent} */ (event).detail, true));
  player.addEventListener("ended", () => say(listens.left === 0 ? "That was your last listen." : "The band has stopped."));
  player.addEventListener("error", async () => {
    // A server that was started again no longer knows the sound: ask for it once more.
    const isNew = await ask(`/write/${exercise}/sound?speed=${listens.playing}`).then((answer) => answer.json(), () => null);
    if (!isNew || isNew.error || isRevived) return say(await whyNoSound(player.audio), true);
    isRevived = true;
    const reached = player.audio.currentTime;
    player.load(isNew.url);
    if (reached) listens.interrupt(reached);
  });
  player.addEventListener("playing", () => (isRevived = false));
  show();
  return { player, listens };
}

/** @param {string} id @param {string} text */
function label(id, text) {
  const what = byId(id).querySelector(".what");
  if (what.textContent !== text) what.textContent = text;
}
