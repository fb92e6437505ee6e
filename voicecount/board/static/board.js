// Puts what the server sends in its place, and says when nothing comes any more.
"use strict";

const CUT_SECONDS = 1.6;
const ROOMS = ["most", "much", "more", "least"];
const board = document.getElementById("board");
const cut = document.getElementById("cut");
const told = document.getElementById("told");
let last = performance.now();
let age = null;
let ageAt = last;
let source = null;
let begunAnew = 0;

function showAge() {
  const place = document.getElementById("age");
  if (!place) return;
  if (age === null) { place.textContent = place.dataset.unknown; return; }
  const seconds = Math.max(0, Math.round(age + (performance.now() - ageAt) / 1000));
  const minutes = Math.floor(seconds / 60);
  const text = seconds < 120 ? `${seconds} s` : minutes < 120 ? `${minutes} min` : `${Math.floor(minutes / 60)} h`;
  const words = `, ${text} old`;
  if (place.textContent !== words) place.textContent = words;
}

// Gives what is to be said and called the largest letters that leave every row its place. Where the
// least are too large, it leaves out rows, the least pressing first, and tells how many.
function fit() {
  const root = document.documentElement;
  const rows = [...board.querySelectorAll("tr[data-rank]")].sort((a, b) => b.dataset.rank - a.dataset.rank);
  const note = board.querySelector(".hidden");
  if (!note) return;
  const more = JSON.parse(note.dataset.more);
  const leaveOut = (n) => {
    const counts = new Map(Object.entries(more));
    rows.forEach((row, at) => {
      row.hidden = at < n;
      if (at < n) counts.set(row.dataset.words, (counts.get(row.dataset.words) || 0) + 1);
    });
    for (const group of board.querySelectorAll(".lines tbody")) {
      group.hidden = group.querySelector("tr[data-rank]:not([hidden])") === null;
    }
    for (const table of board.querySelectorAll(".lines table")) {
      table.hidden = table.querySelector("tbody:not([hidden])") === null;
    }
    const sum = [...counts.values()].reduce((a, b) => a + b, 0);
    const parts = [...counts].map(([words, count]) => `${count} ${words}`);
    note.textContent = sum ? `${sum} more line${sum === 1 ? "" : "s"}: ${parts.join(", ")}` : "";
    return root.scrollHeight <= root.clientHeight;
  };
  for (const room of ROOMS) {
    board.dataset.room = room;
    if (leaveOut(0)) return;
  }
  let [least, most] = [0, Math.max(0, rows.length - 1)];
  while (least < most) {
    const middle = Math.floor((least + most) / 2);
    if (leaveOut(middle)) most = middle;
    else least = middle + 1;
  }
  leaveOut(least);
}

function heardFrom(event) {
  last = performance.now();
  begunAnew = 0;
  const data = JSON.parse(event.data);
  age = data.age;
  ageAt = last;
  if (!cut.hidden) {
    cut.hidden = true;
    board.dataset.cut = "no";
  }
  return data;
}

function connect() {
  if (source) source.close();
  source = new EventSource("/changes");
  source.addEventListener("board", (event) => {
    const data = heardFrom(event);
    // The server has escaped every text of it; the page's policy lets nothing in it run.
    board.innerHTML = data.html;
    board.dataset.fresh = data.fresh ? "yes" : "no";
    fit();
    if (told.textContent !== data.told) told.textContent = data.told;
    showAge();
  });
  source.addEventListener("still", (event) => { heardFrom(event); showAge(); });
}

setInterval(() => {
  const silent = (performance.now() - last) / 1000;
  if (silent > CUT_SECONDS) {
    cut.hidden = false;
    cut.textContent = `Do not go by this board: it has been cut off for ${Math.round(silent)} s.`;
    board.dataset.cut = "yes";
    // A browser gives up on some failures; begin anew then.
    // So does a network that is gone without a word.
    if (source.readyState === EventSource.CLOSED || silent > begunAnew + 5) {
      begunAnew = silent;
      connect();
    }
  }
  showAge();
}, 250);

window.addEventListener("resize", fit);
fit();
connect();
