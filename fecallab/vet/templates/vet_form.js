/* The answer: what was said so far, plan and exam, saving and copying. */
const form = byId("answer");
/* Numbers as typed: 0,5 is 0.5; an empty field is nothing. */
const LIMITS = { doses_planned: [0, 10000, true], negatives_needed: [1, 100, true], spacing_days: [0, 10000, true], wait_after_last_dose_days: [0, 10000, true], repeats_allowed: [0, 10000, true], warm_end_at_least_c: [-10, 60, false], night_at_least_c: [-10, 60, false] };
class Problem extends Error { constructor(text, control) { super(text); this.control = control; } }
function amount(group, name) {
  const control = group.querySelector(`[name="${name}"]`), typed = control.value.trim();
  control.removeAttribute("aria-invalid");
  if (!typed) return undefined;
  const value = Number(/^-?\d+,\d+$/.test(typed) ? typed.replace(",", ".") : typed);
  const [low, high, counted] = LIMITS[name] || [0, 1e6, false];
  const label = control.closest("label").querySelector("span").textContent;
  const wrong = !/^-?\d+([.,]\d+)?$/.test(typed) || !Number.isFinite(value) || value < low || value > high || (counted && !Number.isInteger(value)) || (!LIMITS[name] && value === 0);
  if (wrong) throw new Problem(`“${label}” is ${typed.slice(0, 12)}: a ${counted ? "whole " : ""}number is needed${LIMITS[name] ? `, ${low} to ${high}` : " above 0"}.`, control);
  return value;
}
const text = (group, name, oneLine = true) => { const control = group.querySelector(`[name="${name}"]`); return control ? clean(control.value, oneLine) : ""; };
const picked = (name) => { const radio = form.querySelector(`input[name="${name}"]:checked`); return radio ? radio.value : ""; };
const filled = (object) => Object.fromEntries(Object.entries(object).filter(([, value]) => value !== undefined && value !== ""));

function planOf(group, code) {
  const choice = picked("plan-" + code);
  if (!choice) return undefined;
  if (choice === "none") return { kind: "new", doses_planned: 0 };
  if (choice.startsWith("same:")) return { kind: "same", plan: choice.slice(5) };
  const plan = filled({
    kind: "new", drug: text(group, "drug"), component: text(group, "component"), route: text(group, "route"),
    fluids: text(group, "fluids"), feeding: text(group, "feeding"), remark: text(group, "plan_remark"),
    ...Object.fromEntries(["dose_mg_per_kg", "concentration_mg_per_ml", "interval_days", "doses_planned", "weight_max_age_days", "repeats_allowed", "warm_end_at_least_c", "night_at_least_c", "fluids_ml_per_kg_day"].map((name) => [name, amount(group, name)]))
  });
  const needs = [["drug", "a drug"], ["dose_mg_per_kg", "mg per kg"], ["doses_planned", "how many doses"]].find(([name]) => plan[name] === undefined);
  if (needs) throw new Problem(`A new plan needs ${needs[1]}.`, group.querySelector(`[name="${needs[0]}"]`));
  if (plan.doses_planned > 1 && plan.interval_days === undefined) throw new Problem("Several doses need the days from dose to dose.", group.querySelector('[name="interval_days"]'));
  return plan;
}

function answerOf() {
  const name = text(form, "vet");
  if (!name) throw new Problem("Your name is needed, so that the keeper knows whose word it is.", form.querySelector('[name="vet"]'));
  const pad = (number) => String(number).padStart(2, "0"), now = new Date();
  /* "The rest" of an answer means every sure mark without a word. Where this page means less by it (one of several
     pages, a sure mark that is doubtful and open, a vet's earlier word), the marks are named one by one. */
  const agreed = Boolean(restBox && restBox.checked);
  const byName = agreed && (data.parts > 1 || answered.size > 0 || data.doubtful.some((no) => things.get(no).sure && !saidOf.has(no)));
  const rest = new Set(theRest);
  const marks = [];
  order.forEach((no) => {
    const one = things.get(no), word = saidOf.get(no);
    if (word && !whole(word)) throw new Problem(`Number ${no}: which organism is it?`, document.querySelector(`#number-${no} select`) || form.querySelector('[name="vet"]'));
    if (word) marks.push(filled({ mark: one.key, verdict: word.verdict, name: word.verdict === "other" ? word.name : "", sure: word.guess ? false : undefined, remark: word.remark }));
    else if (byName && rest.has(no)) marks.push({ mark: one.key, verdict: "agree" });
  });
  const nameless = missed.find((one) => !one.name);
  if (nameless) throw new Problem(`Something missed in ${data.fields[nameless.field].title} has no name yet.`, null);
  const exams = [], cases = [];
  form.querySelectorAll("fieldset.exam").forEach((group) => {
    const exam = group.dataset.exam;
    const whole = filled({ picture_quality: picked("quality-" + exam), remark: text(group, "remark") });
    if (Object.keys(whole).length) exams.push({ exam, ...whole });
    group.querySelectorAll(".grade").forEach((one) => {
      const of = (field) => { const control = one.querySelector(`[name="${field}"]`); return control ? control.value : ""; };
      const said = filled({ grade: of("grade"), adequacy: of("adequacy") });
      if (Object.keys(said).length) exams.push({ exam, target: one.dataset.target, ...said });
    });
  });
  form.querySelectorAll("fieldset.case").forEach((group) => {
    const code = group.dataset.case;
    const grade = group.querySelector('[name="grade_at_most"]');
    const follow = filled({ goal: group.querySelector('[name="goal"]').value, grade_at_most: grade ? grade.value : "", ...Object.fromEntries(["negatives_needed", "spacing_days", "wait_after_last_dose_days"].map((field) => [field, amount(group, field)])) });
    const said = filled({ advice: text(group, "advice", false), plan: planOf(group, code), follow_up: Object.keys(follow).length ? follow : undefined });
    if (Object.keys(said).length) cases.push({ case: code, ...said });
  });
  return {
    format: "fecallab-answer", version: 1, page: { id: data.id, hash: data.hash },
    vet: filled({ name, practice: text(form, "practice") }),
    answered_at: `${now.getFullYear()}-${pad(now.getMonth() + 1)}-${pad(now.getDate())}T${pad(now.getHours())}:${pad(now.getMinutes())}`,
    marks, rest_agreed: agreed && !byName,
    missed: missed.map((one) => filled({ reading: data.fields[one.field].reading, x_px: one.x, y_px: one.y, name: one.name, sure: one.guess ? false : undefined, remark: one.remark })),
    exams, cases, words: text(form, "words", false)
  };
}

const problem = byId("problem");
function tryTo(act) {
  problem.textContent = "";
  form.querySelectorAll("[aria-invalid]").forEach((control) => control.removeAttribute("aria-invalid"));
  try {
    return act(JSON.stringify(answerOf(), null, 1));
  } catch (error) {
    if (!(error instanceof Problem)) throw error;
    problem.textContent = error.message;
    if (error.control) {
      (error.control.closest("label, fieldset") || error.control).after(problem);
      error.control.setAttribute("aria-invalid", "true");
      error.control.focus();
    } else byId("save").parentNode.before(problem);
    return undefined;
  }
}
byId("save").addEventListener("click", () => tryTo((answer) => {
  const link = make("a");
  link.href = URL.createObjectURL(new Blob([answer], { type: "application/json" }));
  link.download = `answer-${data.id}${data.parts > 1 ? "-" + data.part : ""}.json`;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
  byId("done").textContent = `Saved as ${link.download}, where your browser keeps what it saves. Please send it back.`;
}));
byId("copy").addEventListener("click", () => tryTo((answer) => {
  const area = byId("block");
  area.value = toBlock(answer);
  byId("as-text").hidden = false;
  area.focus();
  area.select();
  const copied = () => { byId("done").textContent = "Copied. Please paste it into a message to the keeper."; };
  const byHand = () => { byId("done").textContent = document.execCommand && document.execCommand("copy") ? "Copied. Please paste it into a message to the keeper." : "Please copy the text below by hand and send it."; };
  if (navigator.clipboard && navigator.clipboard.writeText) navigator.clipboard.writeText(area.value).then(copied, byHand); else byHand();
}));

form.addEventListener("change", (event) => {
  if (event.target.name && event.target.name.startsWith("plan-")) {
    const group = event.target.closest(".plan");
    group.querySelector(".new-plan").hidden = event.target.value !== "new";
  }
  tell("form");
});
form.addEventListener("submit", (event) => event.preventDefault());

function summary() {
  const { asked, given, agreed } = progress();
  const lines = order.filter((no) => saidOf.has(no)).map((no) => `${no}: ${wordsOf(saidOf.get(no))}`);
  if (lines.length > 40) lines.splice(40, lines.length - 40, `and ${lines.length - 40} more numbers`);
  if (agreed) lines.push(asked ? "the rest as the keeper named it" : "all as the keeper named them");
  missed.forEach((one) => lines.push(`missed in ${data.fields[one.field].title}: ${organismWords.get(one.name) || one.name || "not named yet"}`));
  form.querySelectorAll("fieldset.case").forEach((group) => {
    const radio = form.querySelector(`input[name="plan-${group.dataset.case}"]:checked`);
    if (radio && radio.value) lines.push(`case ${group.dataset.case}: ${radio.nextElementSibling.firstChild.textContent.trim()}`);
  });
  if (given < asked) lines.push(`${asked - given} doubtful without your word; ${asked - given === 1 ? "it stays" : "they stay"} open`);
  byId("said").replaceChildren(...(lines.length ? lines : ["nothing yet"]).map((line) => make("li", line)));
}
let summing = 0;
listeners.push(() => { if (!summing) summing = requestAnimationFrame(() => { summing = 0; summary(); }); });
window.addEventListener("beforeunload", (event) => { if ((saidOf.size || missed.length) && !byId("done").textContent) event.preventDefault(); });
summary();
