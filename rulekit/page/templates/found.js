"use strict";
(() => {
  const { lines, words } = JSON.parse(document.getElementById("score").textContent);
  const form = document.querySelector(".controls");
  const setting = (name) => (form.elements[name] ? form.elements[name].value : "");
  const heard = (voices) => voices.map((notes, index) => (setting("voice") === "" || +setting("voice") === index ? notes : []));
  if (form) {
    form.hidden = false;
    form.addEventListener("submit", (event) => event.preventDefault());
  }
  for (const button of document.querySelectorAll(".play-line")) {
    button.hidden = false;
    button.addEventListener("click", () => player.play(heard(lines[+button.dataset.line]), button, { speed: +setting("speed"), pitch: +setting("pitch"), words }));
  }
})();
