// Puts what the server sends in its place, and says when nothing comes any more.
"use strict";

const CUT_SECONDS = 1.6;
const EMPTY_SECONDS = 10;
const ANEW_SECONDS = 5;
// What gives way, in this order: headings, the size of rows; then rows, and last large letters.
const LEVELS = [["no", "large"], ["yes", "large"], ["yes", "medium"], ["yes", "small"]];
const LETTERS = ["full", "less", "small", "least"];
const STEPS = 8;
const PLACES = ".case, .hears, .who, .what, .item, .number, .status, .said p";
const board = document.getElementById("board");
const cut = document.getElementById("cut");
const cutFor = document.getElementById("cut-for");
const DO_NOT = cut.querySelector("strong").textContent;
const told = document.getElementById("told");
const alarm = document.getElementById("alarm");
let last = performance.now();
let age = null;
let ageAt = last;
let source = null;
let begunAnew = 0;
let heardOf = [];
let saidLast = [];
let sheet = null;
let fitted = null;

function put(place, text) {
  if (place.textContent !== text) place.textContent = text;
}

function showAge() {
  const place = document.getElementById("age");
  if (!place) return;
  if (age === null) { put(place, place.dataset.unknown); return; }
  const seconds = Math.max(0, Math.round(age + (performance.now() - ageAt) / 1000));
  const minutes = Math.floor(seconds / 60);
  const text = seconds < 120 ? `${seconds} s` : minutes < 120 ? `${minutes} min` : `${Math.floor(minutes / 60)} h`;
  put(place, `, ${text} old`);
}

const heightOf = (one) => one.getBoundingClientRect().height;

// Keeps the rows as they were sent, before any was left out or put beside.
function takeSheet() {
  const table = board.querySelector(".lines table");
  const groups = [...(table?.tBodies ?? [])].map((body, at) => ({
    at, body, name: body.querySelector(".group"), rows: [...body.querySelectorAll("tr[data-rank]")],
  }));
  const rows = groups.flatMap((group) => group.rows.map((row) => ({ row, group })));
  rows.forEach((one, at) => { one.at = at; });
  const going = rows.slice().sort((a, b) => b.row.dataset.rank - a.row.dataset.rank);
  sheet = { table, second: null, groups, rows, going };
}

function oneTable() {
  sheet.second?.remove();
  sheet.second = null;
  for (const { body, rows } of sheet.groups) {
    body.hidden = false;
    for (const row of rows) row.hidden = false;
    if (rows.some((row) => row.parentNode !== body)) body.append(...rows);
    if (body.parentNode !== sheet.table) sheet.table.append(body);
  }
}

// Asks the browser once how high the rows are; the rest is arithmetic.
function heights(note) {
  note.textContent = "0";
  return {
    note: heightOf(note) + 1,
    columns: getComputedStyle(note.parentNode).gridTemplateColumns.split(" ").length,
    head: sheet.table ? heightOf(sheet.table.tHead) : 0,
    names: sheet.groups.map((group) => heightOf(group.name)),
    rows: sheet.rows.map((one) => heightOf(one.row)),
  };
}

// Gives how much height there is for them.
function room(note) {
  const style = getComputedStyle(note.parentNode);
  const around = parseFloat(style.paddingTop) + parseFloat(style.borderTopWidth);
  const rest = board.getBoundingClientRect().bottom + scrollY - heightOf(note.parentNode);
  return document.documentElement.clientHeight - rest - around;
}

// Gives how high so many rows are, in one table or two, and with which row the second one begins.
function pack(shown, sizes) {
  const column = (rows) => rows.reduce(
    (sum, one, at) => sum + sizes.rows[one.at]
      + (at === 0 || rows[at - 1].group !== one.group ? sizes.names[one.group.at] : 0), sizes.head);
  const whole = column(shown);
  if (sizes.columns < 2 || shown.length < 2) return { height: whole, at: shown.length };
  const half = Math.ceil(shown.length / 2);
  let found = { height: Infinity, at: half };
  for (const at of [0, 1, -1, 2, -2, 3, -3].map((step) => half + step)) {
    if (at < 1 || at >= shown.length) continue;
    const height = Math.max(column(shown.slice(0, at)), column(shown.slice(at)));
    if (height < found.height) found = { height, at };
  }
  return found;
}

// Leaves out the first to go, and tells how many; puts what remains in its tables.
function place(n, at, note) {
  const counts = new Map(Object.entries(JSON.parse(note.dataset.more)));
  for (const { row } of sheet.going.slice(0, n)) {
    row.hidden = true;
    counts.set(row.dataset.words, (counts.get(row.dataset.words) || 0) + 1);
  }
  const shown = sheet.rows.filter(({ row }) => !row.hidden);
  const beside = shown.slice(at);
  if (beside.length) {
    sheet.second = sheet.table.cloneNode(false);
    sheet.second.append(sheet.table.tHead.cloneNode(true));
    let body = null;
    beside.forEach(({ row, group }, n) => {
      if (n === 0 || beside[n - 1].group !== group) {
        body = group.body.cloneNode(false);
        body.append(group.name.cloneNode(true));
        sheet.second.append(body);
      }
      body.append(row);
    });
    sheet.table.after(sheet.second);
  }
  for (const { body } of sheet.groups) {
    body.hidden = body.querySelector("tr[data-rank]:not([hidden])") === null;
  }
  const sum = [...counts.values()].reduce((a, b) => a + b, 0);
  const parts = [...counts].map(([words, count]) => `${count} ${words}`);
  note.textContent = sum ? `${sum} more line${sum === 1 ? "" : "s"}: ${parts.join(", ")}` : "";
}

// Everything on which it hangs what has room. While it stays, what was found holds: letters do not
// grow and shrink from sentence to sentence, and the page is laid out once.
function roomHangsOn() {
  const texts = [".lines thead", ".difference", ".patient", ".sound", ".stale"].map(
    (name) => board.querySelector(name)?.textContent.replace(/\d+ s\b/g, ""));
  const rows = sheet.rows.map(({ row }) => `${row.cells[0].textContent}${row.matches(".differs")}`);
  const { fresh } = board.dataset;
  const forced = matchMedia("(forced-colors: active)").matches;
  return JSON.stringify([innerWidth, innerHeight, rootSize(), forced, fresh, cut.hidden, texts, rows]);
}

const fits = () => document.documentElement.scrollHeight <= document.documentElement.clientHeight;
const rootSize = () => parseFloat(getComputedStyle(document.documentElement).fontSize);

// Letters that the reader has made large are not made small again: the page is scrolled.
function enlarged() {
  return parseFloat(getComputedStyle(document.body).fontSize) / 2.6 <= 0.39 * rootSize() + 0.001;
}

function fitRows() {
  const note = board.querySelector(".hidden");
  const allSent = note.dataset.more === "{}";
  const set = (letters, [trim, rows]) => Object.assign(board.dataset, { letters, trim, rows });
  // Columns may have become narrower with the rows that went.
  const leaveOut = ({ n, at }) => {
    place(n, at, note);
    for (let more = n + 1; more < sheet.rows.length && !fits(); more += 1) {
      const gone = new Set(sheet.going.slice(0, more));
      oneTable();
      place(more, pack(sheet.rows.filter((one) => !gone.has(one)), fitted.sizes).at, note);
    }
  };
  const leave = (sizes, most = sheet.rows.length - 1) => {
    let found = { at: 0, height: Infinity };
    for (let n = 0; n <= most; n += 1) {
      const gone = new Set(sheet.going.slice(0, n));
      found = pack(sheet.rows.filter((one) => !gone.has(one)), sizes);
      const need = found.height + (n || !allSent ? sizes.note : 0);
      if (need <= sizes.room) return { n, at: found.at, fits: true };
    }
    return { n: Math.max(0, most), at: found.at, fits: false };
  };
  if (!sheet.rows.length) return set("full", LEVELS[0]);
  oneTable();
  if (board.dataset.enlarged === "yes") {
    set("full", LEVELS[0]);
    return place(0, pack(sheet.rows, heights(note)).at, note);
  }
  const key = roomHangsOn();
  if (fitted?.key === key) {
    set(fitted.letters, fitted.level);
    leaveOut(leave(fitted.sizes));
    if (fits()) return;
    oneTable();
  }
  const look = (letters, level) => {
    set(letters, level);
    const sizes = heights(note);
    sizes.room = room(note);
    const found = leave(sizes, 0);
    if (found.fits) place(0, found.at, note);
    fitted = { key, letters, level, sizes };
    return found.fits;
  };
  // Where the smallest rows have no room, larger ones have none.
  const smallest = LEVELS.at(-1);
  if (look("full", smallest)) {
    for (const level of LEVELS) {
      oneTable();
      if (look("full", level)) return;
    }
  }
  // Smaller letters give every row its place, or are little gain: then the largest of them.
  const smaller = LETTERS.slice(1);
  for (const letters of smaller.slice(0, -1)) {
    oneTable();
    if (look(letters, smallest)) return;
  }
  let found = null;
  for (const letters of smaller) {
    set(letters, smallest);
    fitted.letters = letters;
    fitted.sizes.room = room(note);
    found = leave(fitted.sizes);
    const differs = sheet.going.slice(0, found.n).some(({ row }) => row.matches(".differs"));
    if (found.fits && !differs) break;
  }
  leaveOut(found);
}

// A text that is longer than its place gets smaller letters, step by step.
function fitTexts() {
  let long = [...board.querySelectorAll(PLACES)];
  for (const one of long) delete one.dataset.step;
  if (board.dataset.enlarged === "yes") return;
  for (let step = 1; step <= STEPS && long.length; step += 1) {
    long = long.filter((one) => {
      const line = 0.16 * parseFloat(getComputedStyle(one).fontSize);
      return one.scrollHeight > one.clientHeight + line || one.scrollWidth > one.clientWidth + 1;
    });
    for (const one of long) one.dataset.step = step;
  }
}

function fit() {
  if (!sheet) return;
  board.dataset.enlarged = enlarged() ? "yes" : "no";
  fitRows();
  fitTexts();
  if (fits() || board.dataset.enlarged === "yes") return;
  fitted = null;  // for this sentence only: it is longer than any place for it
  fitRows();
  fitted = null;
}

// Says only what has changed; what no longer holds, of the last case perhaps, does not stay.
function tell(parts) {
  const changed = parts.filter((part, at) => part && part !== heardOf[at]);
  parts.forEach((part, at) => { if (part) heardOf[at] = part; });
  if (changed.length || !saidLast.every((part) => parts.includes(part))) {
    saidLast = changed;
    put(told, changed.join(" "));
  }
}

function show(data) {
  // The server has escaped every text of it; the page's policy lets nothing in it run.
  board.innerHTML = data.html;
  board.dataset.fresh = data.fresh ? "yes" : "no";
  board.dataset.cut = "no";
  document.title = `${board.querySelector(".title").textContent} · wall board`;
  takeSheet();
  fit();
  tell(data.told);
  put(alarm, data.alarm);
  showAge();
}

// Nothing of a case may stand here that may be over by now.
function empty(why) {
  const [head, text] = [document.createElement("h1"), document.createElement("p")];
  head.textContent = "Nothing is shown";
  text.textContent = why;
  const section = document.createElement("section");
  section.className = "emptied";
  section.append(head, text);
  board.replaceChildren(section);
  document.title = "wall board";
  sheet = null;
  fitted = null;
  age = null;
  heardOf = [];
  told.textContent = "";
  put(alarm, `${DO_NOT} ${why}`);
}

function heardFrom(event) {
  last = performance.now();
  begunAnew = 0;
  const data = JSON.parse(event.data);
  age = data.age;
  ageAt = last;
  return data;
}

function connect() {
  if (source) source.close();
  source = new EventSource("/changes");
  source.addEventListener("board", (event) => {
    const data = heardFrom(event);
    cut.hidden = true;
    show(data);
  });
  source.addEventListener("still", (event) => {
    heardFrom(event);
    // Parts of the board were taken away since: have the whole of it again.
    if (!cut.hidden) connect();
    showAge();
  });
}

// A stream that is refused does not tell why; another request does.
async function ask() {
  let status = 0;
  try {
    status = (await fetch("/health", { cache: "no-store" })).status;
  } catch { /* cut off: nothing is known */ }
  if (status === 401 && !cut.hidden) empty("This board was begun anew. Open the address with the token that it printed.");
}

function cutOff(silent) {
  put(cutFor, `It has been cut off for ${Math.round(silent)} s.`);
  if (cut.hidden) {
    cut.hidden = false;
    board.dataset.cut = "yes";
    const [who, what] = [board.querySelector(".who"), board.querySelector(".what bdi")];
    if (who && what) {
      who.textContent = board.dataset.who;
      what.textContent = board.dataset.what;
    }
    fit();
    told.textContent = "";
    put(alarm, `${DO_NOT} It is cut off.`);
  }
  if (sheet && silent > EMPTY_SECONDS) empty("If this board does not come back, open its address anew.");
  // A browser gives up on some failures; begin anew then.
  // So does a network that is gone without a word.
  const refused = source.readyState === EventSource.CLOSED;
  if (silent > begunAnew + (refused ? 1 : ANEW_SECONDS)) {
    begunAnew = silent;
    if (refused) ask();
    connect();
  }
}

setInterval(() => {
  const silent = (performance.now() - last) / 1000;
  if (silent > CUT_SECONDS) cutOff(silent);
  showAge();
}, 250);

window.addEventListener("resize", fit);
takeSheet();
fit();
connect();
