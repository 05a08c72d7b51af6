/* What the vet said so far. Nothing is kept by the browser: it lives in this page until it is saved or copied. */
const data = JSON.parse(document.getElementById("page-data").textContent);
const byId = (id) => document.getElementById(id);
const make = (tag, text) => { const made = document.createElement(tag); if (text !== undefined) made.textContent = text; return made; };

const things = new Map();
data.fields.forEach((field, place) => field.marks.forEach((row) => things.set(row[0], {
  no: row[0], key: row[1], field: place, x: row[2], y: row[3], rx: row[4], ry: row[5], turn: row[6],
  name: data.names[row[7]][0], colour: data.names[row[7]][1], sure: row[8] === 1, size: row[9], fit: row[10]
})));
data.counts.forEach((row) => things.set(row[0], {
  no: row[0], key: row[1], field: -1, name: data.names[row[2]][0], sure: row[3] === 1, size: row[4], fit: ""
}));
const order = [...things.keys()].sort((a, b) => a - b);
const doubtful = new Set(data.doubtful);
const answered = new Set(data.answered);  /* a vet's earlier word stands; "the rest" leaves it alone */
const theRest = order.filter((no) => !doubtful.has(no) && !answered.has(no));
const saidOf = new Map();   /* number -> {verdict, name, guess, remark} */
const missed = [];          /* {field, x, y, name, guess, remark} */
const listeners = [];
const tell = (what) => listeners.forEach((listener) => listener(what));

function say(no, word) {
  if (word && word.verdict) saidOf.set(no, word); else saidOf.delete(no);
  tell(no);
}

/* Whether a word can be sent: another organism needs its name. */
const whole = (word) => Boolean(word) && (word.verdict !== "other" || Boolean(word.name));

const organismWords = new Map(data.organisms.map(([key, words]) => [key, words]));

function wordsOf(word) {
  if (!word) return "";
  if (word.verdict !== "other") return word.verdict + (word.remark ? ": " + word.remark : "");
  const name = word.name ? organismWords.get(word.name) || word.name : "another organism (which?)";
  return name + (word.guess ? ", a guess" : "") + (word.remark ? ": " + word.remark : "");
}

/* Texts as the answer may hold them: no control characters, no marks that turn the reading direction. */
function clean(text, oneLine) {
  const kept = String(text).replace(/[\u0000-\u0008\u000b-\u001f\u007f-\u009f\u202a-\u202e\u2066-\u2069]/g, "")
    .replace(/[\ud800-\udbff](?![\udc00-\udfff])|(?:[^\ud800-\udbff]|^)[\udc00-\udfff]/g, "");
  return (oneLine ? kept.replace(/\s+/g, " ") : kept).trim();
}

/* The choice of another name: what fits by size, then the groups, then every organism by its group. */
function choose(no, current, change) {
  const box = document.createDocumentFragment();
  const label = make("label"), select = make("select"), guess = make("label");
  label.className = "text";
  label.append(make("span", "Which organism?"), select);
  select.append(new Option("choose", ""));
  const part = (title, rows) => {
    if (!rows.length) return;
    const group = make("optgroup");
    group.label = title;
    rows.forEach(([key, words]) => group.append(new Option(words, key)));
    select.append(group);
  };
  const fitting = (data.shortlists[no] || []).filter((key) => organismWords.has(key));
  part("by its size", fitting.map((key) => [key, organismWords.get(key)]));
  const groups = data.organisms.filter((row) => row[2] === "groups");
  part("a group", groups);
  groups.forEach(([group]) => part(group, data.organisms.filter((row) => row[2] === group)));
  select.value = current.name || "";
  const tick = make("input");
  tick.type = "checkbox";
  tick.checked = Boolean(current.guess);
  guess.className = "wide";
  guess.append(tick, make("span", "only a guess"));
  const more = make("label"), remark = make("input");
  more.className = "text";
  remark.type = "text"; remark.maxLength = 200; remark.value = current.remark || "";
  more.append(make("span", "Remark"), remark);
  const changed = () => change({ name: select.value, guess: tick.checked, remark: clean(remark.value, true) });
  [select, tick].forEach((control) => control.addEventListener("change", changed));
  remark.addEventListener("input", changed);
  box.append(label, guess, more);
  return box;
}

/* Wire one set of words (agree, other organism, artefact, cannot tell) to a number. */
function wireWords(fieldset, whichNo) {
  const which = fieldset.querySelector(".which");
  const show = () => {
    const no = whichNo(), word = saidOf.get(no);
    fieldset.querySelectorAll("input[type=radio]").forEach((radio) => { radio.checked = Boolean(word) && radio.value === word.verdict; });
    const other = Boolean(word) && word.verdict === "other";
    if (other && (which.hidden || which.dataset.no !== String(no))) {
      which.replaceChildren(choose(no, word, (more) => say(no, { verdict: "other", ...more })));
      which.dataset.no = no;
    }
    which.hidden = !other;
  };
  fieldset.addEventListener("click", (event) => {  /* the same word again takes it back */
    const word = saidOf.get(whichNo());
    if (event.target.type === "radio" && word && event.target.value === word.verdict) say(whichNo(), null);
  });
  fieldset.addEventListener("change", (event) => {
    if (event.target.type !== "radio") return;
    const before = saidOf.get(whichNo()) || {};
    const other = event.target.value === "other";
    say(whichNo(), { verdict: event.target.value, name: other ? before.name || "" : "", guess: other && before.guess, remark: before.remark || "" });
  });
  listeners.push((what) => { if (what === whichNo()) show(); });
  return show;
}
