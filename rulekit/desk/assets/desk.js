"use strict";
// The page of the desk: what is typed goes to the bench, what comes back is shown. Nothing is judged here.
const $ = (id) => document.getElementById(id);
const token = document.body.dataset.token;
const state = { rules: "", stamp: "", saved: "", exercise: "", exerciseStamp: "", exerciseSaved: "", typed: true, voices: [], chosen: null, shipped: [] };

async function ask(name, asked) {
  const response = await fetch(`/ask/${name}`, {
    method: "POST", headers: { "x-desk-token": token, "content-type": "application/json" }, body: JSON.stringify(asked || {}),
  });
  if (!response.ok) throw new Error(await response.text());
  const answer = await response.json();
  if (answer.refused) { say(answer.refused.map(words).join(" ")); return null; }
  return answer;
}

function words(problem) {
  const place = problem.line ? `line ${problem.line}: ` : "";
  return `${problem.file && problem.line ? problem.file + ", " : ""}${place}${problem.words}${problem.hint ? ". " + problem.hint : ""}`;
}

function say(text) { $("said").textContent = text; }

// What was told is so no longer once something is typed, opened or saved.
function outdated() {
  if ($("said").textContent.endsWith(" is saved.")) say("");
  const told = $("effects");
  if (told.firstChild && !told.querySelector(".since")) told.prepend(element("p", { className: "notice since", textContent: "Something has changed since this was told; ask again." }));
}

function element(tag, given, ...inner) {
  const made = document.createElement(tag);
  Object.assign(made, given);
  made.append(...inner);
  return made;
}

// A picture comes from the engraver as SVG, its texts escaped there.
function picture(svg, glyphs) {
  const holder = element("div", {});
  holder.innerHTML = (glyphs || "") + svg;
  return holder;
}

// What is asked again while one types: the last question counts, asked once the hand rests.
function resting(wait, action) {
  let timer = 0, number = 0;
  return () => {
    clearTimeout(timer);
    const mine = ++number;
    timer = setTimeout(() => action(() => mine === number).catch(lost), wait);
  };
}

function lost(error) { say(`The desk does not answer (${error.message}). What you typed is kept in this browser.`); }

// ---- files ---------------------------------------------------------------------------------------

function options(select, names, first) {
  const chosen = select.value;
  select.replaceChildren(...(first ? [element("option", { value: "", textContent: first })] : []), ...names.map((name) => element("option", { value: name, textContent: name })));
  if (names.includes(chosen)) select.value = chosen;
}

async function files() {
  const found = await ask("files");
  if (!found) return;
  $("folder").textContent = document.title = found.folder;
  state.folder = found.folder;
  state.shipped = found.shipped;
  options($("rules-file"), found.rulesets, "choose…");
  options($("exercise-file"), found.exercises, "choose…");
  options($("new-base"), [...found.shipped, ...found.rulesets.map((name) => name.replace(/\.rules$/, ""))]);
}

const draftName = (name) => `draft ${state.folder} ${name}`;

function keep(name, text, saved, stamp) {
  if (!name) return;
  if (text === saved) localStorage.removeItem(draftName(name));
  else localStorage.setItem(draftName(name), JSON.stringify({ text, stamp }));
}

async function openRules(name) {
  const found = await ask("file", { name });
  if (!found) return;
  Object.assign(state, { rules: name, stamp: found.stamp, saved: found.text });
  $("rules").value = found.text;
  $("rules-file").value = name;
  offerDraft($("draft"), name, found, $("rules"), edited);
  shown();
}

// A draft that is left where it is stays one until something else is typed.
function offerDraft(notice, name, found, area, take) {
  const kept = JSON.parse(localStorage.getItem(draftName(name)) || "null");
  notice.hidden = !kept || kept.text === found.text;
  if (notice.hidden) return;
  const changed = kept.stamp !== found.stamp ? " The file has changed on the disk since then: saving the draft would undo that." : "";
  notice.querySelector("p").textContent = `A draft of ${name} was kept that is not saved.${changed}`;
  notice.querySelector("[data-take]").onclick = () => { area.value = kept.text; notice.hidden = true; take(); area.focus(); };
  notice.querySelector("[data-leave]").onclick = () => { localStorage.removeItem(draftName(name)); notice.hidden = true; area.focus(); };
}

async function save(name, text, stamp, done) {
  if (!name) { say("Choose a file first."); return; }
  const answer = await ask("save", { name, text, stamp });
  if (!answer) return;
  if (!answer.saved) {
    say(`${name} has changed on the disk since it was read, so it was not saved. Your text stays here; copy it, or open the file again.`);
    return;
  }
  localStorage.removeItem(draftName(name));
  done(answer.stamp);
  outdated();
  say(`${name} is saved.`);
  await files();
}

function saveRules() {
  const text = $("rules").value;
  return save(state.rules, text, state.stamp, (stamp) => { Object.assign(state, { stamp, saved: text }); showState(); });
}

function saveExercise() {
  const text = $("notes").value;
  if (!state.typed) { say("Only exercises in the typed notation are saved here."); return; }
  return save(state.exercise, text, state.exerciseStamp, (stamp) => { Object.assign(state, { exerciseStamp: stamp, exerciseSaved: text }); showState(); });
}

function showState() {
  $("rules-state").textContent = state.rules && $("rules").value !== state.saved ? "not saved" : "";
  $("exercise-state").textContent = state.exercise && $("notes").value !== state.exerciseSaved ? "not saved" : "";
}

// ---- rules ---------------------------------------------------------------------------------------

const asked = () => ({ name: state.rules, text: $("rules").value });
const lineOf = (text, place) => text.slice(0, place).split("\n").length;

function go(line, column, length) {
  const area = $("rules"), lines = area.value.split("\n");
  const start = lines.slice(0, line - 1).reduce((sum, each) => sum + each.length + 1, 0) + column - 1;
  area.focus();
  area.setSelectionRange(start, start + length);
  area.scrollTop = Math.max(0, (line - 6) * parseFloat(getComputedStyle(area).lineHeight));
}

const look = resting(120, async (current) => {
  if (!state.rules) return;
  const begun = performance.now();
  const found = await ask("look", asked());
  if (!found || !current()) return;
  showProblems(found.problems);
  const wrong = found.examples.filter((each) => !each.ok);
  $("verdicts").textContent = `${found.examples.length - wrong.length} of ${found.examples.length} examples as expected`;
  for (const each of wrong) $("problems").append(problemItem({ line: each.line, column: 1, length: 1, words: `This example comes out ${each.words}`, hint: "" }));
  document.body.dataset.looked = Math.round(performance.now() - begun);
  if (found.problems.some((each) => !each.odd)) mends();
});

const mends = resting(700, async (current) => {
  const sent = $("rules").value;
  const found = await ask("mends", asked());
  if (found && current() && sent === $("rules").value && found.problems.length) showProblems(found.problems);
});

function showProblems(problems) { $("problems").replaceChildren(...problems.map(problemItem)); }

function problemItem(problem) {
  const item = element("li", {});
  const place = element("button", { type: "button", textContent: `line ${problem.line}`, onclick: () => go(problem.line, problem.column, problem.length) });
  item.append(place, ` ${problem.words} `, element("span", { className: "hint", textContent: problem.hint }));
  if (problem.mend) item.append(" ", element("button", { type: "button", className: "mend", textContent: "Write it so", onclick: () => change(problem.mend) }));
  return item;
}

function change(mend) {
  go(mend.line, mend.column, mend.length);
  insert(mend.text);
}

function insert(text) {
  const area = $("rules");
  area.setRangeText(text, area.selectionStart, area.selectionEnd, "end");
  edited();
}

const examples = resting(160, async (current) => {
  if (!state.rules) return;
  const found = await ask("examples", { ...asked(), line: lineOf($("rules").value, $("rules").selectionStart) });
  if (!found || !current()) return;
  $("examples-heading").textContent = found.rule ? `Examples of ${found.rule}` : "Examples of this rule";
  const parts = found.rule ? found.examples.map(exampleBox) : [element("p", { className: "state", textContent: "Put the cursor into a rule." })];
  $("examples").replaceChildren(picture("", found.glyphs), ...parts);
});

function exampleBox(each) {
  const box = element("div", { className: "example" });
  if (each.problems) { box.append(...each.problems.map((problem) => element("p", { textContent: words(problem) }))); return box; }
  const verdict = `${each.accepted ? "Accepted" : "Rejected"}${each.title ? ` “${each.title}”` : ""}: ${each.ok ? "as expected" : "not as expected"}`;
  box.append(element("p", { className: "verdict", textContent: verdict }), picture(each.picture));
  for (const finding of each.findings) box.append(element("p", { textContent: `${finding.place}: ${finding.message}${finding.excuse ? ` (excused: ${finding.excuse})` : ""}` }));
  if (!each.ok || !each.findings.length) box.append(element("ul", { className: "saw" }, ...each.saw.map((text) => element("li", { textContent: text }))));
  return box;
}

function edited() {
  keep(state.rules, $("rules").value, state.saved, state.stamp);
  shown();
}

function shown() {
  $("offers").hidden = true;
  outdated();
  showState();
  look();
  examples();
  marked();
}

// ---- what can stand here -------------------------------------------------------------------------

let offered = [], selected = 0;

async function showOffers() {
  const found = await ask("offers", { ...asked(), place: $("rules").selectionStart });
  const begun = /[\w-]*$/.exec($("rules").value.slice(0, $("rules").selectionStart))[0];
  offered = found ? found.offers.filter((each) => each.word.startsWith(begun)) : [];
  selected = 0;
  $("offers").hidden = !offered.length;
  if (!offered.length) { say("Nothing of the language can stand here."); return; }
  $("offers").replaceChildren(...offered.map((each, number) => element("li", { role: "option", onclick: () => take(number) }, each.word, element("small", { textContent: each.said || each.kind }))));
  markOffer();
}

function markOffer() {
  [...$("offers").children].forEach((item, number) => item.setAttribute("aria-selected", number === selected));
  $("offers").children[selected].scrollIntoView({ block: "nearest" });
}

function take(number) {
  const area = $("rules"), begun = /[\w-]*$/.exec(area.value.slice(0, area.selectionStart))[0];
  area.setSelectionRange(area.selectionStart - begun.length, area.selectionEnd);
  $("offers").hidden = true;
  area.focus();
  insert(offered[number].word);
}

function offerKey(event) {
  if ($("offers").hidden) return false;
  const moves = { ArrowDown: 1, ArrowUp: -1 };
  if (event.key in moves) { selected = (selected + moves[event.key] + offered.length) % offered.length; markOffer(); }
  else if (event.key === "Enter" || event.key === "Tab") take(selected);
  else if (event.key === "Escape") $("offers").hidden = true;
  else return false;
  event.preventDefault();
  return true;
}

async function showMeaning() {
  const found = await ask("meaning", { ...asked(), place: $("rules").selectionStart });
  if (found) $("meaning").textContent = found.words.replace(/[*`]/g, "") || "This is no word of the rules.";
}

let message = -1;

function nextMessage() {
  const buttons = [...$("problems").querySelectorAll("li > button:first-child")];
  if (!buttons.length) { say("There are no messages."); return; }
  message = (message + 1) % buttons.length;
  say(buttons[message].parentElement.textContent);
  buttons[message].click();
}

// ---- the exercise --------------------------------------------------------------------------------

const exercise = () => ({ rules: state.rules || state.shipped[0], rules_text: state.rules ? $("rules").value : "", text: $("notes").value, number: $("which").selectedIndex < 0 ? 0 : $("which").selectedIndex });

async function openExercise(name) {
  const found = await ask("file", { name });
  if (!found) return;
  Object.assign(state, { exercise: name, exerciseStamp: found.stamp, exerciseSaved: found.text, typed: found.typed, chosen: null });
  $("notes").value = found.text;
  $("exercise-file").value = name;
  $("which").selectedIndex = 0;
  before.length = 0;
  offerDraft($("notes-draft"), name, found, $("notes"), notesEdited);
  notesShown();
}

function notesEdited() {
  keep(state.exercise, $("notes").value, state.exerciseSaved, state.exerciseStamp);
  notesShown();
}

function notesShown() {
  $("lines").replaceChildren();
  $("take-back").disabled = !before.length;
  outdated();
  showState();
  marked();
}

const marked = resting(160, async (current) => {
  if (!$("notes").value.trim()) return;
  const found = await ask("mark", exercise());
  if (!found || !current()) return;
  $("note-problems").replaceChildren(...found.problems.map((problem) => element("li", { textContent: words(problem) })));
  if (!found.picture) return;
  const which = state.last ? found.titles.length - 1 : $("which").selectedIndex;
  if (state.last) { state.last = false; $("which").replaceChildren(...found.titles.map((title) => element("option", { textContent: title }))); $("which").selectedIndex = which; marked(); return; }
  $("which-label").hidden = found.titles.length < 2;
  $("which").replaceChildren(...found.titles.map((title) => element("option", { textContent: title })));
  $("which").selectedIndex = Math.max(0, Math.min(which, found.titles.length - 1));
  Object.assign(state, { voices: found.voices, signature: found.signature });
  const held = $("staves").contains(document.activeElement) || state.writing;
  $("staves").replaceChildren(element("p", { className: "state", textContent: found.open ? `${found.open} still to be found; their bars are not judged yet` : `${found.mark} of 100` }), picture(found.picture, found.glyphs));
  state.writing = false;
  placed();
  if (held && state.chosen) focusPlace(...state.chosen);
  $("findings").replaceChildren(...found.findings.map(findingItem));
  if (state.chosen) standing(...state.chosen);
});

function findingItem(each) {
  const item = element("li", {}, `${each.number}. ${each.place}: ${each.message}${each.excuse ? ` (excused: ${each.excuse})` : ""} `);
  const told = element("ul", { className: "saw" });
  const why = async () => {
    const found = await ask("why", { ...exercise(), rule: each.rule, bar: each.bar });
    if (found) told.replaceChildren(...found.places.flatMap((place) => [`${place.place}: ${place.outcome}`, ...place.said]).map((text) => element("li", { textContent: text })));
  };
  item.append(element("button", { type: "button", textContent: `Why: ${each.rule}`, onclick: why }), told);
  return item;
}

// ---- writing on the staves ---------------------------------------------------------------------

const LETTERS = "CDEFGAB", SIGNS = ["b", "", "#"];
const places = () => [...$("staves").querySelectorAll("[data-place]")];
const placeOf = (note) => note.dataset.place.split(".").map(Number);
const placeAt = (voice, slot) => places().find((note) => note.dataset.place === `${voice}.${slot}`);
const focusPlace = (voice, slot) => placeAt(voice, slot)?.focus({ preventScroll: true });
const stepOf = (note) => 7 * Number(/-?\d+$/.exec(note)[0]) + LETTERS.indexOf(note[0]);
const signOf = (note) => SIGNS.indexOf(note.slice(1).replace(/-?\d+$/, ""));

function noteOn(step) {
  const letter = ((step % 7) + 7) % 7;
  return LETTERS[letter] + state.signature[letter] + Math.floor(step / 7);
}

// The staves number the notes that sound; the bench numbers those to be found with them.
function placed() {
  const sounding = state.voices.map((voice) => voice.notes.flatMap((note, slot) => (note === null ? [] : [slot])));
  for (const note of $("staves").querySelectorAll(".note[role]")) {
    const [voice, number] = (note.dataset.note || note.dataset.open).split(".").map(Number);
    note.dataset.place = `${voice}.${note.dataset.note ? sounding[voice][number] : number}`;
    note.tabIndex = 0;
  }
}

// The place and the line or space that is pointed to.
function pointed(event) {
  const within = (box) => box.left <= event.clientX && event.clientX < box.right && box.top <= event.clientY && event.clientY < box.bottom;
  const ground = [...$("staves").querySelectorAll(".ground")].find((each) => within(each.getBoundingClientRect()));
  if (!ground) return null;
  const box = ground.getBoundingClientRect(), unit = box.height / ground.getAttribute("height");
  const top = box.top + (ground.dataset.top - ground.getAttribute("y")) * unit;
  const away = (note) => { const area = note.querySelector(".area").getBoundingClientRect(); return Math.abs((area.left + area.right) / 2 - event.clientX); };
  const here = [...ground.closest(".bar").querySelectorAll("[data-place]")].filter((note) => placeOf(note)[0] === Number(ground.dataset.staff));
  const nearest = here.sort((one, other) => away(one) - away(other))[0];
  return nearest && { place: placeOf(nearest), step: ground.dataset.step - Math.round((event.clientY - top) / (5 * unit)) };
}

let turn = Promise.resolve();
const before = [];

function put(voice, slot, note) {
  Object.assign(state, { chosen: [voice, slot], writing: true });
  state.voices[voice].notes[slot] = note || null;
  turn = turn.then(async () => {
    const changed = await ask("put", { text: $("notes").value, number: exercise().number, voice, slot, note });
    if (changed) rewrite(changed.text);
  }).catch(lost);
  return turn;
}

function rewrite(text) {
  before.push($("notes").value);
  $("notes").value = text;
  notesEdited();
}

function takeBack() {
  if (!before.length) return;
  $("notes").value = before.pop();
  state.writing = true;
  notesEdited();
}

function pointAt(event) {
  const found = pointed(event);
  if (!found) return;
  const [voice, slot] = found.place, own = state.voices[voice].notes[slot];
  if (state.voices[voice].cantus || (own && stepOf(own) === found.step)) { focusPlace(voice, slot); standing(voice, slot).catch(lost); }
  else put(voice, slot, noteOn(found.step));
}

function staffKey(event) {
  const note = event.target.closest && event.target.closest("[data-place]");
  if (!note) return;
  const [voice, slot] = placeOf(note), own = state.voices[voice].notes[slot], given = state.voices[voice].cantus;
  const moved = (steps) => () => given || put(voice, slot, noteOn(own ? stepOf(own) + steps : middleOf(voice)));
  const signed = (more) => () => {
    const sign = own && SIGNS[signOf(own) + more];
    if (!given && sign !== undefined && own) put(voice, slot, own[0] + sign + /-?\d+$/.exec(own)[0]);
  };
  const acts = {
    ArrowUp: moved(1), ArrowDown: moved(-1), "+": signed(1), "#": signed(1), "-": signed(-1), b: signed(-1),
    Delete: () => given || put(voice, slot, ""), Backspace: () => given || put(voice, slot, ""),
    ArrowLeft: () => focusPlace(voice, slot - 1), ArrowRight: () => focusPlace(voice, slot + 1),
    Enter: () => standing(voice, slot).catch(lost), " ": () => standing(voice, slot).catch(lost),
  };
  const act = event.ctrlKey || event.metaKey ? (event.key === "z" ? takeBack : null) : acts[event.key];
  if (act) { event.preventDefault(); act(); }
}

const middleOf = (voice) => Number($("staves").querySelector(`[data-staff="${voice}"]`).dataset.step) - 4;

async function begin(below) {
  const begun = await ask("begun", { ...exercise(), below });
  if (!begun) return;
  state.last = true;
  rewrite(begun.text);
}

async function standing(voice, slot) {
  state.chosen = [voice, slot];
  for (const note of places()) note.classList.toggle("chosen", note.dataset.place === `${voice}.${slot}`);
  const strip = $("strip");
  if (state.voices[voice].cantus) { strip.hidden = false; strip.replaceChildren(element("p", { textContent: "This note is the cantus’s." })); return; }
  const begun = performance.now();
  const found = await ask("standing", { ...exercise(), voice, slot });
  const here = () => state.chosen[0] === voice && state.chosen[1] === slot;
  if (!found || !here()) return;
  document.body.dataset.stood = Math.round(performance.now() - begun);
  strip.hidden = false;
  const fits = new Map(found.lines.map((each) => [each.note, each.lines]));
  const buttons = [...found.lines.map((each) => [each.note, each.lines]), ...found.others.map((note) => [note, "0"])], reasons = new Map();
  const reason = element("p", { className: "strip-why" });
  const tell = (note) => () => { reason.textContent = reasons.has(note) ? `${note}: ${reasons.get(note)}` : ""; };
  const heading = `${state.voices[voice].name}, note ${slot + 1}${found.own ? `: ${found.own}` : ""}. With the other notes as they are, so many lines go through each:`;
  strip.replaceChildren(element("p", { textContent: heading }), element("div", { className: "strip-notes" }, ...buttons.map(([note, lines]) =>
    element("button", { type: "button", className: `${fits.has(note) ? "fits" : "not"}${note === found.own ? " here" : ""}`, onclick: () => put(voice, slot, note), onfocus: tell(note), onmouseenter: tell(note) }, note, element("small", { textContent: lines })))), reason);
  const told = await ask("because", { ...exercise(), voice, slot, notes: found.others });
  if (!told) return;
  for (const each of told.because) reasons.set(each.note, each.because);
  for (const button of strip.querySelectorAll(".not")) button.title = reasons.get(button.firstChild.textContent) || "";
}

async function found(name) {
  say("Looking…");
  const answer = await ask(name, exercise());
  if (!answer) return;
  say(answer.lines.length ? "" : "There is no such line.");
  $("lines").replaceChildren(...answer.lines.map((each) => element("div", { className: "example" },
    element("p", { className: "verdict", textContent: `${each.said ? each.said + ": " : ""}${each.mark} of 100` }), picture(each.picture, each.glyphs),
    element("button", { type: "button", textContent: "Take this line", onclick: () => rewrite(each.text) }))));
}

// ---- what the change does ------------------------------------------------------------------------

function table(head, rows) {
  const cell = (tag) => (text) => element(tag, { textContent: text, className: /^[\d.,%]+$/.test(text) ? "number" : "" });
  return element("table", {}, element("thead", {}, element("tr", {}, ...head.map(cell("th")))), element("tbody", {}, ...rows.map((row) => element("tr", {}, ...row.map(cell("td"))))));
}

async function effect(name, show) {
  if (!state.rules) { say("Choose a rules file first."); return; }
  say("Looking…");
  const given = exercise();
  const answer = await ask(name, name === "changes" ? { rules: given.rules, rules_text: given.rules_text } : given);
  if (!answer) return;
  say("");
  $("effects").replaceChildren(...show(answer));
}

const toClass = (answer) => [
  element("p", { textContent: answer.changed.length ? `${answer.changed.length === 1 ? "1 submission is" : `${answer.changed.length} submissions are`} judged otherwise than by the saved rules:` : "No submission is judged otherwise than by the saved rules." }),
  ...(answer.changed.length ? [table(["exercise", "before", "after", "no longer found", "found now"], answer.changed.map((each) => [`${each.title} (${each.file})`, String(each.before), String(each.after), each.gone.join("; "), each.come.join("; ")]))] : []),
  ...answer.unread.map((text) => element("p", { className: "state", textContent: text })),
];

const toLines = (answer) => [
  picture("", answer.glyphs),
  element("p", { textContent: `Allowed before and after: ${answer.both}. No longer allowed: ${answer.forbidden}. Newly allowed: ${answer.allowed}.` }),
  ...["forbidden_example", "allowed_example"].filter((key) => answer[key]).map((key) => element("div", { className: "example" },
    element("p", { className: "verdict", textContent: key === "forbidden_example" ? `No longer allowed, by ${answer[key].rule}` : `Newly allowed; ${answer[key].rule} forbade it` }), picture(answer[key].picture))),
];

const percent = (share) => `${(100 * share).toFixed(2)}%`;
const byNumbers = (answer) => [
  table(["rule", "removes alone", "of what the others leave"], answer.rules.map((each) => [each.rule, percent(each.alone), percent(each.last)])),
  element("p", { textContent: `Never decide anything here: ${answer.rules.filter((each) => !each.last).map((each) => each.rule).join(", ") || "none"}.` }),
  element("p", { textContent: `Leave no line together: ${answer.conflicts.map((pair) => pair.join(" and ")).join("; ") || "none"}.` }),
];

// ---- hands ---------------------------------------------------------------------------------------

$("rules").addEventListener("input", edited);
$("rules").addEventListener("keyup", examples);
$("rules").addEventListener("click", examples);
$("rules").addEventListener("keydown", (event) => {
  if (offerKey(event)) return;
  const act = event.key === "F2" ? showMeaning : event.key === "F8" ? nextMessage : event.ctrlKey && event.key === " " ? showOffers : event.ctrlKey && event.key === "s" ? saveRules : null;
  if (act) { event.preventDefault(); Promise.resolve(act()).catch(lost); }
});
$("notes").addEventListener("input", notesEdited);
$("notes").addEventListener("keydown", (event) => { if (event.ctrlKey && event.key === "s") { event.preventDefault(); Promise.resolve(saveExercise()).catch(lost); } });
$("rules-file").addEventListener("change", (event) => event.target.value && openRules(event.target.value).catch(lost));
$("exercise-file").addEventListener("change", (event) => event.target.value && openExercise(event.target.value).catch(lost));
$("which").addEventListener("change", () => { state.chosen = null; $("strip").hidden = true; marked(); });
$("save-rules").addEventListener("click", () => saveRules().catch(lost));
$("save-exercise").addEventListener("click", () => Promise.resolve(saveExercise()).catch(lost));
$("new-rules").addEventListener("click", () => { $("new-form").hidden = !$("new-form").hidden; if (!$("new-form").hidden) $("new-name").focus(); });
$("new-form").addEventListener("submit", async (event) => {
  event.preventDefault();
  const name = $("new-name").value.trim().replace(/\.rules$/, "");
  if (!name) { say("Give it a name."); return; }
  const text = `ruleset "${name}"\nbuild on ${$("new-base").value}\n`;
  await save(`${name}.rules`, text, "", () => {});
  $("new-form").hidden = true;
  await openRules(`${name}.rules`).catch(lost);
  $("rules").focus();
  $("rules").setSelectionRange(text.length, text.length);
});
for (const [id, act] of [["complete", () => found("complete")], ["mended", () => found("mended")], ["changes", () => effect("changes", toClass)], ["compare", () => effect("lines", toLines)], ["numbers", () => effect("numbers", byNumbers)]]) $(id).addEventListener("click", () => act().catch(lost));
$("staves").addEventListener("click", pointAt);
$("staves").addEventListener("keydown", staffKey);
$("take-back").addEventListener("click", takeBack);
$("above").addEventListener("click", () => begin(false).catch(lost));
$("below").addEventListener("click", () => begin(true).catch(lost));
addEventListener("beforeunload", (event) => { if ($("rules").value !== state.saved && state.rules) event.preventDefault(); });
files().catch(lost);
