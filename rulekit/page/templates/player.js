"use strict";
// Voices are lists of [onset, length, MIDI number], times in quarter notes.
const player = (() => {
  const QUARTER = 0.5;
  let context = null;
  let playing = null;
  const sound = (midi, start, length) => {
    const gain = context.createGain();
    gain.connect(context.destination);
    gain.gain.setValueAtTime(0, start);
    gain.gain.linearRampToValueAtTime(0.16, start + 0.03);
    gain.gain.setTargetAtTime(0.09, start + 0.05, 0.4);
    gain.gain.setTargetAtTime(0, start + length - 0.06, 0.03);
    const frequency = 440 * 2 ** ((midi - 69 + playing.pitch) / 12);
    for (const [times, level] of [[1, 1], [2, 0.28], [3, 0.1]]) {
      const tone = context.createOscillator();
      const part = context.createGain();
      part.gain.value = level;
      tone.frequency.value = frequency * times;
      tone.connect(part).connect(gain);
      tone.start(start);
      tone.stop(start + length + 0.2);
      playing.tones.push(tone);
    }
  };
  const stop = () => {
    if (!playing) return;
    for (const tone of playing.tones) tone.stop();
    clearInterval(playing.timer);
    if (playing.words) playing.button.textContent = playing.words.play;
    for (const note of document.querySelectorAll(".note.sounding")) note.classList.remove("sounding");
    playing = null;
  };
  const play = (voices, button, { from = 0, until = Infinity, follow = false, speed = 1, pitch = 0, words }) => {
    const again = playing && playing.button === button && button.classList.contains("note-button") === false;
    stop();
    if (again) return;
    context = context || new AudioContext();
    context.resume();
    const quarter = QUARTER / (speed || 1);
    const begin = context.currentTime + 0.08;
    playing = { tones: [], button, timer: 0, pitch, words };
    const marks = [];
    let end = 0;
    voices.forEach((notes, voice) => notes.forEach(([onset, length, midi], number) => {
      const first = Math.max(onset, from);
      const last = Math.min(onset + length, until);
      if (last <= first) return;
      sound(midi, begin + (first - from) * quarter, (last - first) * quarter);
      marks.push([`${voice}.${number}`, (first - from) * quarter, (last - from) * quarter]);
      end = Math.max(end, (last - from) * quarter);
    }));
    if (!button.classList.contains("note-button")) button.textContent = words.stop;
    playing.timer = setInterval(() => {
      const now = context.currentTime - begin;
      if (now > end + 0.1) { stop(); return; }
      if (!follow) return;
      const on = new Set(marks.filter(([, start, over]) => start <= now && now < over).map(([key]) => key));
      for (const note of document.querySelectorAll(".note[data-note]")) note.classList.toggle("sounding", on.has(note.dataset.note));
    }, 40);
  };
  return { play };
})();
