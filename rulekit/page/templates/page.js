"use strict";
(() => {
  const score = JSON.parse(document.getElementById("score").textContent);
  const words = score.words;
  const all = (selector, root = document) => [...root.querySelectorAll(selector)];
  const one = (selector, root = document) => root.querySelector(selector);
  const make = (tag, kind, text) => {
    const made = document.createElement(tag);
    if (kind) made.className = kind;
    if (text !== undefined) made.textContent = text;
    return made;
  };
  const spoken = ([place, message, language]) => {
    const told = make("span", "", `${message} `);
    if (document.documentElement.lang !== "en") told.lang = language;
    return [`${place}: `, told];
  };
  const music = (name) => name.replace(/#/g, "♯").replace(/(.)b/g, "$1♭");
  const form = one(".controls");
  const setting = (name) => (form.elements[name] ? form.elements[name].value : "");
  for (const shown of all(".controls, .strip, .play-line")) shown.hidden = false;

  // ---- choosing a finding lights its notes, and a note its findings ------------------------------
  let chosen = 0;
  const light = (number) => {
    chosen = number === chosen ? 0 : number;
    const notes = new Set(chosen ? score.findings[chosen - 1] : []);
    for (const sign of all(".sign[data-finding]")) sign.classList.toggle("chosen", +sign.dataset.finding === chosen);
    for (const note of all(".note[data-note]")) note.classList.toggle("of-chosen", notes.has(note.dataset.note));
    for (const item of all(".findings li")) {
      const on = +item.dataset.item === chosen;
      item.classList.toggle("chosen", on);
      one(".choose", item).setAttribute("aria-pressed", on);
    }
  };
  const seen = (element) => element.getClientRects().length > 0;
  const show = (element) => element && element.scrollIntoView({ block: "nearest", behavior: "auto" });

  // ---- what else could stand at a note -------------------------------------------------------------
  const ask = (key, label) => {
    for (const note of all(".note[data-note]")) note.classList.toggle("asked", note.dataset.note === key);
    one(".strip-place").textContent = label;
    const strip = one(".strip-notes");
    strip.replaceChildren();
    const found = score.choices[key];
    const why = make("p", "strip-why");
    if (!found) {
      why.textContent = words.cantus;
      strip.append(why);
      return;
    }
    for (const choice of found) {
      const fits = choice.faults.length === 0;
      const button = make("button", `${fits ? "fits" : "not"}${choice.here ? " here" : ""}`, music(choice.note));
      button.type = "button";
      if (fits && choice.lines !== null) button.append(make("small", "", String(choice.lines)));
      const said = [fits ? words.fits : words.bars];
      if (choice.here) said.unshift(words.here);
      if (fits && choice.lines !== null) said.push(`${words.lines}: ${choice.lines}`);
      const reasons = choice.faults.map((number) => score.reasons[number]);
      const explain = `${music(choice.note)}: ${said.join(", ")}. `;
      button.setAttribute("aria-label", explain + reasons.map(([place, message]) => `${place}: ${message}`).join(" "));
      const tell = () => why.replaceChildren(explain, ...reasons.flatMap(spoken));
      button.addEventListener("focus", tell);
      button.addEventListener("pointerenter", tell);
      button.addEventListener("click", () => { tell(); try_note(key, choice.midi); });
      strip.append(button);
    }
    strip.append(why);
  };

  // ---- keyboard, mouse and touch on the staves ------------------------------------------------------
  const targets = () => all(".staves [data-note][role], .staves [data-finding]").filter(seen);
  const rove = (target) => {
    for (const each of all(".staves [tabindex='0']")) each.setAttribute("tabindex", "-1");
    if (target) target.setAttribute("tabindex", "0");
  };
  const choose = (target) => {
    rove(target);
    if (target.dataset.finding) {
      light(+target.dataset.finding);
      if (chosen) show(document.getElementById(`finding-${chosen}`));
    } else {
      ask(target.dataset.note, target.getAttribute("aria-label"));
      const about = score.findings.findIndex((notes) => notes.includes(target.dataset.note));
      const already = chosen && score.findings[chosen - 1].includes(target.dataset.note);
      if (!already && about + 1 !== chosen) light(about < 0 ? chosen : about + 1);
    }
  };
  const step = (target, key) => {
    const list = targets();
    if (key === "Home") return list[0];
    if (key === "End") return list[list.length - 1];
    const [voice, number] = (target.dataset.note || "").split(".").map(Number);
    const at = (v, n) => list.find((each) => each.dataset.note === `${v}.${n}`);
    const index = list.indexOf(target);
    if (!target.dataset.note) return list[index + (key === "ArrowRight" || key === "ArrowDown" ? 1 : -1)];
    if (key === "ArrowRight") return at(voice, number + 1) || list[index + 1];
    if (key === "ArrowLeft") return at(voice, number - 1) || list[index - 1];
    const onset = score.voices[voice][number][0];
    const other = voice + (key === "ArrowDown" ? 1 : -1);
    const line = score.voices[other] || [];
    const reached = line.findIndex(([start, length]) => start <= onset && onset < start + length);
    if (reached >= 0) return at(other, reached);
    const bar = target.closest(".bar");
    return key === "ArrowDown" && bar ? one("[data-finding]", bar) : null;
  };
  one(".score").addEventListener("click", (event) => {
    const target = event.target.closest("[data-note], [data-finding]");
    if (target && target.dataset.finding) choose(target);
    else if (target) choose(targets().find((each) => each.dataset.note === target.dataset.note) || target);
  });
  one(".score").addEventListener("keydown", (event) => {
    const target = event.target.closest("[data-note], [data-finding]");
    if (!target) return;
    if (event.key === "Enter" || event.key === " ") {
      event.preventDefault();
      choose(target);
    } else if (/^(Arrow|Home|End)/.test(event.key)) {
      event.preventDefault();
      const next = step(target, event.key);
      if (next) { rove(next); next.focus(); }
    } else if (event.key === "Escape" && chosen) light(chosen);
  });
  for (const item of all(".findings li")) {
    const button = one(".choose", item);
    button.addEventListener("click", () => {
      light(+item.dataset.item);
      if (chosen) show(all(`[data-finding="${chosen}"]`).find(seen));
    });
  }

  // ---- clefs, figures, syllables --------------------------------------------------------------------
  const turn = () => {
    const clefs = setting("clefs");
    for (const each of all(".clefs")) each.hidden = Boolean(clefs) && each.dataset.clefs !== clefs;
    const reduced = setting("figures") === "reduced";
    for (const each of all("[data-reduced]")) each.textContent = reduced ? each.dataset.reduced : each.dataset.compound;
    const sung = setting("sung");
    for (const each of all("[data-sung]")) each.textContent = sung === "" ? "" : score.sung[each.dataset.sung][+sung];
    rove(targets()[0]);
  };
  form.addEventListener("change", turn);
  form.addEventListener("submit", (event) => event.preventDefault());
  window.addEventListener("resize", () => rove(targets()[0]));

  // ---- playing ---------------------------------------------------------------------------------------
  const play = (voices, button, how) => player.play(voices, button, { ...how, speed: +setting("speed"), pitch: +setting("pitch"), words });
  const only = (voices, wanted) => voices.map((notes, index) => (wanted.includes(index) ? notes : []));
  one(".play").addEventListener("click", (event) => {
    play(only(score.voices, setting("voice").split(",").map(Number)), event.currentTarget, { from: score.bars[+setting("from")], follow: true });
  });
  for (const button of all(".play-line")) {
    button.addEventListener("click", () => play(score.lines[+button.dataset.line], button));
  }
  const silent = make("button", "note-button");
  const try_note = (key, midi) => {
    const [voice, number] = key.split(".").map(Number);
    const changed = score.voices.map((notes, v) => notes.map((note, n) => (v === voice && n === number ? [note[0], note[1], midi] : note)));
    const line = changed[voice];
    const from = line[Math.max(0, number - 1)][0];
    const last = line[Math.min(line.length - 1, number + 1)];
    const group = score.together.find((voices) => voices.includes(voice));
    play(only(changed, group), silent, { from, until: last[0] + last[1] });
  };
  turn();
})();
