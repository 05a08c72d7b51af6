/* The first screen answers at once, before the pictures below have arrived: words under the doubtful numbers, the rest. */
const restBox = byId("rest-agreed");
document.querySelectorAll("li.doubt fieldset.say").forEach((fieldset) => wireWords(fieldset, () => Number(fieldset.dataset.no)));
if (restBox) restBox.addEventListener("change", () => tell("rest"));

function progress() {
  const asked = data.doubtful.length, given = data.doubtful.filter((no) => whole(saidOf.get(no))).length;
  return { asked, given, rest: theRest.length, agreed: Boolean(restBox && restBox.checked) };
}
function barWords() {
  const { asked, given, rest, agreed } = progress(), bits = [];
  if (asked) bits.push(`${given} of ${asked} doubtful`);
  if (rest) bits.push(agreed ? `${asked ? "rest" : "all"} agreed` : `${asked ? "rest " : ""}not answered yet`);
  byId("bar-said").textContent = bits.join(" · ");
}
listeners.push(barWords);
barWords();
document.documentElement.classList.add("on");
