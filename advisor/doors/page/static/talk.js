// Sends without reloading, and keeps every word on the phone until the adviser has it: a draft while it is typed, an
// outbox once it is sent. Each message gets its id here, once; the adviser counts an id once, however often it comes.
const DRAFT = "talk.draft", OUTBOX = "talk.outbox";
const FIRST_PAUSE_MS = 2000, LONGEST_PAUSE_MS = 300000, PATIENCE_MS = 60000, KEEP_AFTER_MS = 4000;
const talk = document.getElementById("talk");
const box = document.getElementById("box");
const text = document.getElementById("text");
const list = document.getElementById("outbox");
const exchanges = document.getElementById("exchanges");
const status = document.getElementById("status");
let pause = FIRST_PAUSE_MS, timer = 0, keeping = 0, sending = false, shown = new Set(), trouble = "";

if (talk && keeps()) begin();
if ("serviceWorker" in navigator) navigator.serviceWorker.register("/worker.js").catch(() => {});

function keeps() {  // without a place to keep words, the plain forms do their work
  try {
    localStorage.setItem("talk.try", "1");
    localStorage.removeItem("talk.try");
    return true;
  } catch {
    return false;
  }
}

function begin() {
  if (!text.value) text.value = localStorage.getItem(DRAFT) || "";
  grow();
  text.addEventListener("input", () => { keepDraft(); grow(); });
  text.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && !event.shiftKey && !event.isComposing && matchMedia("(pointer: fine)").matches) {
      event.preventDefault();
      box.requestSubmit();
    }
  });
  talk.addEventListener("submit", (event) => {
    if (!event.target.hasAttribute("data-sends")) return;
    event.preventDefault();
    take(event.target, event.submitter);
  });
  talk.addEventListener("click", (event) => {
    const fills = event.target.closest("[data-fills]");
    if (!fills) return;
    event.preventDefault();
    fill(fills.dataset.fills);
  });
  for (const name of ["online", "focus", "pageshow"]) addEventListener(name, () => soon(true));
  addEventListener("offline", draw);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) soon(true); });
  addEventListener("storage", (event) => { if (event.key === OUTBOX) elsewhere(event.oldValue); });
  draw();
  soon(true);
}

// ---- the box

function keepDraft() {
  try { localStorage.setItem(DRAFT, text.value); } catch { /* it stands in the box all the same */ }
}

function grow() {
  text.style.height = "auto";
  text.style.height = `${text.scrollHeight + 4}px`;
}

function fill(line) {
  text.value = line;
  keepDraft();
  grow();
  text.focus();
  const gap = line.indexOf("…");
  if (gap >= 0) text.setSelectionRange(gap, gap + 1);
}

// ---- the outbox

function outbox() {
  try { return JSON.parse(localStorage.getItem(OUTBOX)) || []; } catch { return []; }
}

// Changes the outbox while no other tab does.
function change(how) {
  const now = () => localStorage.setItem(OUTBOX, JSON.stringify(how(outbox())));
  return navigator.locks ? navigator.locks.request("talk.outbox.change", now) : Promise.resolve(now());
}

function newId() {
  return Array.from(crypto.getRandomValues(new Uint8Array(16)), (one) => one.toString(16).padStart(2, "0")).join("");
}

async function take(form, button) {
  const told = new FormData(form);
  if (button && button.name) told.set(button.name, button.value);
  const words = inWords(form, told);
  if (!words) return;
  if (form === box) text.readOnly = true;
  told.set("id", newId());
  told.set("sent_at", new Date().toISOString());
  const item = { id: told.get("id"), to: form.getAttribute("action"), words, body: new URLSearchParams(told).toString(), form: form === box ? "" : where(form) };
  try {
    await change((items) => [...items, item]);
  } catch {  // no room left to keep it: send it as a page does
    text.readOnly = false;
    form.removeAttribute("data-sends");
    form.requestSubmit(button);
    return;
  }
  if (form === box) {
    text.readOnly = false;
    text.value = "";
    keepDraft();
    grow();
  }
  draw();
  soon(true);
}

function inWords(form, told) {  // what was typed stands among the words, so that none of it is lost
  if (!form.dataset.words) return (told.get("text") || "").trim();
  const typed = [...told].filter(([name, value]) => name.includes(".") && value).map(([, value]) => value);
  return [form.dataset.words, ...typed].join(" ");
}

function where(form) {  // how to find a form again to show its faults
  const inside = form.closest(".exchange");
  return inside && form.action.endsWith("/reading") ? `#${inside.id} form[action$="/reading"]:has([name=place][value="${form.elements.place.value}"])` : "";
}

function draw() {
  list.replaceChildren(...outbox().map((item) => {
    const line = document.createElement("li");
    const words = document.createElement("p");
    words.className = "lines";
    words.textContent = item.words;
    const state = document.createElement("p");
    state.className = item.refused ? "fault" : "soft small";
    state.textContent = item.refused || waiting();
    line.append(words, state);
    if (item.refused) line.append(button("Put it back into the box", () => putBack(item)), " ", button("Drop it", () => drop(item)));
    return line;
  }));
}

function waiting() {
  if (!navigator.onLine) return `Waiting: it is sent when the signal is back. This page is as it was at ${talk.dataset.at}.`;
  if (sending) return "Thinking …";
  return trouble ? `Waiting: ${trouble}. It is tried again by itself.` : "Waiting to be sent …";
}

function button(label, act) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = "quiet";
  made.textContent = label;
  made.addEventListener("click", act);
  return made;
}

async function putBack(item) {
  text.value = text.value ? `${text.value}\n${item.words}` : item.words;
  keepDraft();
  await drop(item);
  grow();
  text.focus();
}

async function drop(item) {
  await change((items) => items.filter((one) => one.id !== item.id));
  draw();
}

// ---- sending

function soon(now) {
  clearTimeout(timer);
  if (!outbox().some((item) => !item.refused)) return;
  if (now) { pause = FIRST_PAUSE_MS; flush(); return; }
  timer = setTimeout(flush, pause * (0.8 + 0.4 * Math.random()));
  pause = Math.min(pause * 2, LONGEST_PAUSE_MS);
}

async function flush() {
  if (sending || !navigator.onLine) { draw(); return; }
  sending = true;
  draw();
  try {
    if (navigator.locks) await navigator.locks.request("talk.outbox", { ifAvailable: true }, (lock) => lock && sendAll());
    else await sendAll();
  } finally {
    sending = false;
    draw();
    soon(false);
  }
}

async function sendAll() {
  for (let item; (item = outbox().find((one) => !one.refused)); ) {
    status.textContent = "Thinking";
    draw();
    let answer, body;
    try {
      answer = await fetch(item.to, {
        method: "POST",
        headers: { "Content-Type": "application/x-www-form-urlencoded", "Accept": "application/json, text/html;q=0.5" },
        body: `${item.body}&part=1`,
        signal: AbortSignal.timeout ? AbortSignal.timeout(PATIENCE_MS) : undefined,
      });
      body = await answer.text();
    } catch {
      trouble = "no answer came";
      return;
    }
    const ours = answer.headers.get("X-Exchange");
    if (answer.ok && ours) {
      trouble = "";
      pause = FIRST_PAUSE_MS;
      await change((items) => items.filter((one) => one.id !== item.id));
      show(body, ours);
    } else if (answer.status === 422 && ours && item.form && document.querySelector(item.form)) {
      await change((items) => items.filter((one) => one.id !== item.id));
      faulty(item, body);
    } else if (answer.status >= 400 && answer.status < 500 && ![408, 425, 429].includes(answer.status)) {
      const why = reason(body, answer.status);
      await change((items) => items.map((one) => (one.id === item.id ? { ...one, refused: why } : one)));
      status.textContent = why;
    } else {  // a fault over there, or a page of somebody else's in between, as before a sign-in to a network
      trouble = answer.ok ? "this network wants something first" : "the adviser is not well just now";
      return;
    }
  }
}

function reason(body, code) {
  try {
    const problem = JSON.parse(body);
    return `Not taken: ${problem.found}. ${problem.do}.`;
  } catch {
    return `Not taken (${code}).`;
  }
}

// ---- showing

function parsed(body) {
  return new DOMParser().parseFromString(body, "text/html").querySelector(".exchange");
}

function show(body, id) {
  const made = parsed(body);
  if (!made || shown.has(id)) return;
  shown.add(id);
  document.getElementById(made.id)?.remove();
  for (const old of exchanges.querySelectorAll("form[data-choices]")) old.remove();
  exchanges.append(made);
  const first = made.querySelector(".answer");
  status.textContent = first ? first.innerText.slice(0, 400) : "Answered";
  const words = made.querySelector("h2");
  if (document.activeElement !== text || !matchMedia("(pointer: fine)").matches) words.focus({ preventScroll: true });
  words.scrollIntoView({ block: "start" });
  clearTimeout(keeping);
  keeping = setTimeout(() => navigator.serviceWorker?.controller?.postMessage("answered"), KEEP_AFTER_MS);
}

function faulty(item, body) {
  const old = document.querySelector(item.form), fresh = parsed(body)?.querySelector(item.form.replace(/^\S+ /, ""));
  if (!old || !fresh) return;
  old.replaceWith(fresh);
  status.textContent = fresh.querySelector(".fault")?.textContent || "";
  fresh.querySelector("[aria-invalid]")?.focus();
}

// What another tab has sent is shown here too.
async function elsewhere(before) {
  draw();
  let gone = [];
  try { gone = (JSON.parse(before) || []).filter((one) => !outbox().some((item) => item.id === one.id)); } catch { return; }
  for (const item of gone) {
    if (shown.has(item.id) || item.to !== "/talk") continue;
    try {
      const answer = await fetch(`/talk/${item.id}?part=1`);
      if (answer.ok && answer.headers.get("X-Exchange")) show(await answer.text(), item.id);
    } catch { /* it is in the talk when the page is opened next */ }
  }
}
