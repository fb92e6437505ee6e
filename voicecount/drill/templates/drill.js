"use strict";
(() => {
  const sound = document.getElementById("sound");
  const note = document.getElementById("player-note");
  const strips = [...document.querySelectorAll(".strip")];
  let button = null;
  let until = null;
  let frame = 0;
  const number = (place, name) => Number(place.dataset[name]);
  const stop = () => {
    if (button !== null) button.setAttribute("aria-pressed", "false");
    button = null;
    until = null;
  };
  const look = () => {
    const at = sound.currentTime;
    if (until !== null && at >= until) {
      sound.pause();
      stop();
    }
    for (const one of strips) {
      const [from, to] = [number(one, "from"), number(one, "to")];
      const here = at > 0 && at >= from && at < to;
      const cursor = one.querySelector(".cursor");
      cursor.classList.toggle("here", here);
      if (here) {
        const [left, right] = [number(one, "left"), number(one, "right")];
        const x = String(left + ((right - left) * (at - from)) / (to - from));
        for (const end of ["x1", "x2"]) cursor.firstElementChild.setAttribute(end, x);
      }
    }
  };
  const run = () => {
    look();
    frame = sound.paused ? 0 : requestAnimationFrame(run);
  };
  const play = (from, to, by) => {
    stop();
    sound.currentTime = from;
    until = to;
    button = by;
    if (by !== null) by.setAttribute("aria-pressed", "true");
    note.textContent = "";
    sound.play().catch(() => {
      stop();
      note.textContent = "The recording cannot be played: it has to lie beside this page.";
    });
  };
  sound.addEventListener("play", () => { if (!frame) frame = requestAnimationFrame(run); });
  sound.addEventListener("timeupdate", look);
  sound.addEventListener("seeked", look);
  sound.addEventListener("ended", stop);
  sound.addEventListener("pause", () => { if (!sound.seeking) stop(); });
  for (const one of document.querySelectorAll("button.play")) {
    one.hidden = false;
    one.addEventListener("click", () => {
      if (button === one && !sound.paused) {
        sound.pause();
        stop();
      } else play(number(one, "from"), number(one, "to"), one);
    });
  }
  for (const one of strips) {
    one.classList.add("plays");
    one.addEventListener("click", (event) => {
      const box = one.getBoundingClientRect();
      const [left, right] = [number(one, "left"), number(one, "right")];
      const share = ((event.clientX - box.left) / box.width - left) / (right - left);
      const [from, to] = [number(one, "from"), number(one, "to")];
      if (share >= 0 && share <= 1) play(from + share * (to - from), null, null);
    });
  }
})();
