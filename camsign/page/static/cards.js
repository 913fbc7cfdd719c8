// Cards and cameras: outages, whose a card is, and the clocks.

import { $, $$, h } from "./dom.js";
import { ask, get } from "./api.js";
import { alarm } from "./shared.js";
import { onNews } from "./live.js";
import { again, say, undoable } from "./said.js";
import { finding } from "./clocks.js";

undoable();

for (const form of $$("form.outage")) {
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const answer = await say("/say/outage/add", { ...Object.fromEntries(new FormData(form)), camera: form.dataset.camera });
    if (answer) again(answer);
  });
}

$("#whose-form")?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const answer = await say(`/cards/${$("main").dataset.card}/camera`, Object.fromEntries(new FormData(event.target)));
  if (answer) again(answer);
});

// ---------------------------------------------------------------- clocks

let job = "";

$("#judge")?.addEventListener("click", async () => {
  $("#judge").disabled = true;
  $("#judged").textContent = "Checking …";
  try {
    job = (await ask("/cards/clocks", {})).job;
    finished((await get("/jobs")).jobs.find((one) => one.job === job));
  } catch (e) {
    alarm(e.message);
    $("#judge").disabled = false;
  }
});

function finished(news) {
  if (!news || news.job !== job || news.state === "running") return;
  job = "";
  $("#judge").disabled = false;
  if (news.state === "done") show(news.result);
  else $("#judged").textContent = news.words;
}

onNews("job", finished);

/** Work that was begun and left is found again. */
async function comeBack() {
  const all = (await get("/jobs")).jobs.filter((one) => one.title.startsWith("Checking the clocks"));
  const last = all.at(-1);
  if (!last) return;
  job = last.job;
  $("#judged").textContent = "Checking …";
  finished(last);
}

function show(findings) {
  const odd = findings.filter((one) => one.attention);
  const right = findings.filter((one) => one.verdict === "right");
  const unclear = findings.filter((one) => !one.attention && one.verdict !== "right");
  const parts = [[right.length, "right"], [unclear.length, "can't tell"], [odd.length, "wrong"]].filter(([n]) => n).map(([n, word]) => `${n} ${word}`);
  $("#judged").textContent = `${findings.length} checked${parts.length ? `: ${parts.join(", ")}` : ""}`;
  const fold = (title, all) => (all.length ? h("details", {}, h("summary", {}, title), all.map((one) => finding(one, judgeAnew))) : "");
  $("#findings").replaceChildren(...odd.map((one) => finding(one, judgeAnew)), fold("Can't tell yet", unclear), fold("Right", right));
}

async function judgeAnew(one) {
  const got = await get(`/cards/clocks/${encodeURIComponent(one.camera)}`).catch((e) => alarm(e.message));
  const place = $$("#findings .finding").filter((article) => article.dataset.camera === one.camera);
  if (!got || !place.length) return;
  const made = got.findings.map((found) => finding(found, judgeAnew));
  place[0].replaceWith(...made);
  for (const old of place.slice(1)) old.remove();
}

$("#main").dataset.ready = "yes";
if ($("#judge")) await comeBack();
