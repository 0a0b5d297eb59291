// The room's small helpers: keys for every press, retry after a lost connection, groups that
// arrows walk through, the axis drag, and a mark on a slow picture. No state lives here that
// the server could not rebuild.
(() => {
  "use strict";
  const $ = (selector, root = document) => root.querySelector(selector);
  const key = () => Array.from(crypto.getRandomValues(new Uint8Array(12)), (b) => b.toString(16).padStart(2, "0")).join("");
  const tab = key();

  document.addEventListener("htmx:config:request", (event) => {
    const { request } = event.detail.ctx;
    if (!$("#room")) return;
    const body = request.body;
    const chosen = $("input[name=at]:checked");
    const kind = $("input[name=kind]:checked");
    const look = $("#look");
    const manner = $("#manner");
    if (!body.has("look") && look) body.set("look", look.value);
    if (!body.has("manner") && manner) body.set("manner", manner.value);
    if (!body.has("at") && chosen) body.set("at", chosen.value);
    if (!body.has("kind") && kind) body.set("kind", kind.value);
    if (request.method === "GET") return;
    if (!body.has("client_key")) body.set("client_key", key());
    body.set("tab_id", tab);
    body.set("seen", $("#seen").value);
  });

  // A lost connection: say so, keep the very same press, offer it again.
  const failed = [];
  document.addEventListener("htmx:error", (event) => {
    const { ctx } = event.detail;
    if (!$("#alert")) return;
    if (ctx.request.method === "POST") failed.push(ctx);
    say("The connection was lost.", failed.length ? "Your last press is kept and can be sent again; it will not count twice." : "Try again.", failed.length > 0);
  });
  document.addEventListener("htmx:response:error", (event) => {
    const { ctx } = event.detail;
    if (ctx.response.status >= 500) say("The server could not answer.", "What was saved before is still saved. Try again in a moment.", false);
    if ($("#finish[open]")) $("#finish").close();
    if (ctx.response.status === 404) say("This attempt is not open in this browser.", "The session may have been lost. Go back to the start page to find your attempts.", false);
  });
  // Another tab was quicker: the answer is the fresh room, or words alone where the act had no
  // room to show or the attempt has ended; then the room is asked for beside them.
  document.addEventListener("htmx:before:swap", (event) => {
    const { ctx, tasks } = event.detail;
    if (ctx.response && ctx.response.status === 404 && $("#room")) event.preventDefault(); // said already, in words for a room
    if (!ctx.response || ctx.response.status !== 409 || ctx.text.includes('id="room"')) return;
    for (const task of tasks) if (task.target && task.target.id === "room") { task.target = $("#alert"); task.swapSpec.style = "outerHTML"; }
    $("#select-form").requestSubmit();
  });
  document.addEventListener("htmx:after:request", (event) => {
    const { ctx } = event.detail;
    if (ctx.response && ctx.response.status < 400 && ctx.request.method === "POST" && !failed.length) clear();
  });
  function clear() { const box = $("#alert"); if (box && box.textContent) { box.textContent = ""; box.className = ""; } }
  function say(title, words, retry) {
    const box = $("#alert");
    if (!box) return;
    box.className = "alert";
    box.replaceChildren();
    const strong = document.createElement("strong");
    strong.textContent = title;
    box.append(strong, " " + words + " ");
    if (retry) {
      const again = document.createElement("button");
      again.type = "button"; again.id = "retry"; again.textContent = "Send again";
      again.addEventListener("click", resend);
      box.append(again);
    }
  }
  function resend() {
    const waiting = failed.splice(0);
    clear();
    for (const ctx of waiting) {
      const values = Object.fromEntries(new URLSearchParams(ctx.request.body));
      htmx.ajax("POST", ctx.request.action, { source: ctx.sourceElement, target: ctx.target, swap: ctx.swap, values });
    }
  }

  const post = (name, values) => {
    const form = $("#" + name + "-form");
    return htmx.ajax("POST", form.getAttribute("action"), { source: form, target: name === "card" ? "#card-says" : "#room", swap: name === "card" ? "innerHTML" : "outerMorph", values });
  };

  document.addEventListener("change", (event) => {
    const field = event.target;
    if (field.id === "look") looking = field.value;
    if (field.matches("input[name=at], input[name=kind], #look")) { field.form.requestSubmit(); return; }
    if (field.matches("select[data-posts]")) { choose(field); return; }
    if (field.id === "axis") { if (typing === field) turnTo(field); return; }
    if (field.id === "block") { if (typing === field) { typing = null; post("wall", { block: field.value }); } return; }
    if (field.id === "handle") { if (typing === field) aimTo(field); return; }
    if (field.id === "move") { if (field.value) post("move", { to: field.value }); return; }
    if (field.dataset.card) {
      field.removeAttribute("aria-invalid");
      sending.set(field.dataset.card, field.value);
      post("card", { field: field.dataset.card, text: field.value });
    }
  });
  function choose(field) {
    looking = null;
    if (field.name === "tool" && !field.value) { if ($("#away")) post("away", {}); return; }
    post(field.dataset.posts || "wall", { [field.name]: field.value });
  }
  const sending = new Map();

  // A field that somebody has used keeps its own value through a swap: show the server's word,
  // but leave what is just being typed.
  let typing = null;
  document.addEventListener("input", (event) => { typing = event.target; });
  document.addEventListener("focusout", () => { typing = null; });
  function aimTo(field) { typing = null; post("aim", { to: field.value }); }
  function turnTo(field) { typing = null; post("turn", { to: field.value }); }
  // What is looked at was chosen again before the last answer came: the newest choice stays.
  let looking = null;
  document.addEventListener("htmx:error", () => { looking = null; });
  function keepLooking() {
    const list = $("#look");
    if (looking === null || !list) { looking = null; return; }
    if (list.value === looking || ![...list.options].some((one) => one.value === looking)) looking = null;
    else list.value = looking;
  }
  function settle() {
    for (const field of document.querySelectorAll("#axis, #handle, #block, .fit-fields input")) if (field !== typing) field.value = field.defaultValue;
    for (const list of document.querySelectorAll("#room select")) list.selectedIndex = Math.max(0, [...list.options].findIndex((option) => option.defaultSelected));
    keepLooking();
  }
  document.addEventListener("htmx:after:swap", (event) => {
    const { ctx } = event.detail;
    const target = typeof ctx.target === "string" ? $(ctx.target) : ctx.target;
    if (target && target.id === "card-says") {
      const saved = $("#saved");
      const name = ctx.request.body && new URLSearchParams(ctx.request.body).get("field");
      const field = name && $(`[data-card="${name}"]`);
      if (!field) return;
      if (saved && sending.get(name) === field.value) field.value = saved.dataset.value;
      if (ctx.response.status >= 400) field.setAttribute("aria-invalid", "true");
    }
    if (target && target.id === "room") settle();
    watchPicture();
  });

  // The picture: the old one stays until the new one is there; after 300 ms it says so.
  let slow;
  function watchPicture() {
    const image = $("#eye-picture");
    if (!image || image.dataset.at === image.getAttribute("src")) return;
    image.dataset.at = image.getAttribute("src");
    clearTimeout(slow);
    const box = image.parentElement;
    if (!image.complete) slow = setTimeout(() => { if (!image.complete) box.classList.add("slow"); }, 300);
    image.onload = image.onerror = () => { clearTimeout(slow); box.classList.remove("slow"); };
  }
  document.addEventListener("DOMContentLoaded", watchPicture);

  // A press on the picture looks closer at the part nearest to it; the next one at the whole.
  document.addEventListener("click", (event) => {
    const list = $("#look");
    if (event.target.id !== "eye-picture" || !list) return;
    list.value = list.value === "0" ? nearestPart(event, list) : "0";
    looking = list.value;
    list.form.requestSubmit();
  });
  function nearestPart(event, list) {
    const image = event.target, box = image.getBoundingClientRect();
    const scale = Math.min(box.width / image.naturalWidth, box.height / image.naturalHeight);
    const wide = image.naturalWidth * scale, tall = image.naturalHeight * scale;
    const x = 50 + (100 * (event.clientX - box.left - box.width / 2)) / wide;
    const y = 50 + (100 * (event.clientY - box.top - box.height / 2)) / tall;
    const away = (option) => { const [left, top] = option.dataset.spot.split(" ").map(Number); return Math.hypot(left - x, top - y); };
    return [...list.options].slice(1).sort((one, other) => away(one) - away(other))[0].value;
  }

  // What was chosen before the page was ready to hear it is asked for now, as if chosen just then.
  window.addEventListener("load", () => {
    const places = [...document.querySelectorAll("input[name=at], input[name=kind]")].filter((one) => one.checked && !one.defaultChecked);
    const lists = [...document.querySelectorAll("#room select")].filter((one) => one.selectedIndex !== Math.max(0, [...one.options].findIndex((option) => option.defaultSelected)));
    const early = [...places, ...lists][0];
    if (early && !heard) early.dispatchEvent(new Event("change", { bubbles: true }));
  });
  let heard = false;
  document.addEventListener("change", (event) => { if (event.isTrusted) heard = true; }, true);

  // Dialogs
  document.addEventListener("click", (event) => {
    const opener = event.target.closest("[data-opens]");
    if (opener) { $("#" + opener.dataset.opens).showModal(); return; }
    const toggler = event.target.closest("[data-toggles]");
    if (toggler) {
      const open = document.body.classList.toggle(toggler.dataset.toggles);
      if (toggler.dataset.toggles === "drawer-open") (open ? $(".slots button:not(:disabled)") : $("#open-case")).focus({ preventScroll: true });
      return;
    }
    const closer = event.target.closest("[data-closes]");
    if (closer) $("#" + closer.dataset.closes).close();
  });

  // Groups with one tab stop: lenses of the case
  function rove(group) {
    const items = [...group.querySelectorAll("button")];
    const now = items.find((item) => item.id === group.dataset.now && !item.disabled) || items.find((item) => !item.disabled);
    for (const item of items) item.tabIndex = item === now ? 0 : -1;
    return items;
  }
  function roveAll() { document.querySelectorAll("[data-keys=slots]").forEach(rove); }
  document.addEventListener("DOMContentLoaded", roveAll);
  document.addEventListener("htmx:after:swap", roveAll);

  // What was unfolded stays so: the fit's effects are read where they were set.
  let unfolded = [];
  document.addEventListener("htmx:before:swap", () => { unfolded = [...document.querySelectorAll("#room details[open]")].map((one) => one.className); });
  document.addEventListener("htmx:after:swap", () => { for (const name of unfolded) { const one = $("#room details." + name); if (one) one.open = true; } });

  // Where a swap takes away or disables what had the focus, stay near: in the lens case if it
  // was there, else at the chosen place.
  let had = null;
  document.addEventListener("htmx:before:swap", () => { had = document.activeElement; });
  document.addEventListener("htmx:after:swap", () => {
    if (!had || had === document.body || (had.isConnected && !had.disabled)) return;
    const inCase = had.isConnected && had.closest("[data-keys=slots]") && $("[data-keys=slots] button[tabindex='0']");
    const to = inCase || $("input[name=at]:checked");
    if (to) to.focus({ preventScroll: true });
  });
  // Over a lens of the case, or at it by keys: name it in the line that says where it goes.
  function nameLens(slot) {
    const says = $("#goes");
    if (!says) return;
    const [name, where] = says.children;
    where.hidden = Boolean(slot) && slot.value === says.dataset.holds;
    const words = slot && slot.textContent;
    name.textContent = !slot ? "" : where.hidden ? words + " stands there now" : words + ": ";
    if (slot) slot.setAttribute("aria-describedby", where.hidden ? "goes" : "goes-where");
  }
  const slotAt = (target) => target instanceof Element && target.closest("[data-keys=slots] button");
  document.addEventListener("pointerover", (event) => nameLens(slotAt(event.target) || slotAt(document.activeElement)));
  document.addEventListener("htmx:after:swap", () => nameLens($("[data-keys=slots] button:hover") || slotAt(document.activeElement)));
  document.addEventListener("focusin", (event) => {
    nameLens(slotAt(event.target));
    const group = event.target.closest("[data-keys=slots]");
    if (group && event.target.id) { group.dataset.now = event.target.id; rove(group); }
  });
  let typed = "", typedAt = 0;
  function slotKeys(event, group) {
    const items = [...group.querySelectorAll("button:not(:disabled)")];
    const at = items.indexOf(document.activeElement);
    const row = document.activeElement.parentElement;
    let to = null;
    if (event.key === "ArrowRight") to = items[at + 1];
    else if (event.key === "ArrowLeft") to = items[at - 1];
    else if (event.key === "Home") to = items[0];
    else if (event.key === "End") to = items[items.length - 1];
    else if (event.key === "ArrowDown" || event.key === "ArrowUp") {
      const next = event.key === "ArrowDown" ? row.nextElementSibling : row.previousElementSibling;
      const left = document.activeElement.getBoundingClientRect().left;
      if (next) to = [...next.querySelectorAll("button:not(:disabled)")].sort((a, b) => Math.abs(a.getBoundingClientRect().left - left) - Math.abs(b.getBoundingClientRect().left - left))[0];
    } else if (/^[-+−.,0-9]$/.test(event.key)) {
      typed = Date.now() - typedAt > 1500 ? event.key : typed + event.key;
      typedAt = Date.now();
      const wanted = typed.replace("−", "-").replace(",", ".").replace(/^([-+])\./, "$10.");
      to = items.find((item) => item.value.replace(/^[a-z]+/, "").startsWith(wanted));
      event.preventDefault();
    } else return;
    if (to) { event.preventDefault(); to.focus(); }
  }
  // With what is held: 1 and 2 show its faces, 3 asks; in a field of degrees arrows turn
  function handKeys(event) {
    const button = event.target.matches("input") ? null : $({ 1: "#show-1", 2: "#show-2", 3: "#ask-which" }[event.key] || "#none");
    if (button) { event.preventDefault(); button.form.requestSubmit(button); }
  }
  function blockKeys(event, field) {
    const by = { ArrowUp: 1, ArrowDown: -1 }[event.key];
    if (event.key !== "Enter" && !by) return;
    event.preventDefault();
    typing = null;
    const to = Number(field.value) + (by || 0) * (event.shiftKey ? 5 : 1);
    post("wall", { block: ((to % 180) + 180) % 180 });
  }
  function numberKeys(event, field, act) {
    if (event.key === "Enter") { event.preventDefault(); typing = null; post(act, { to: field.value }); }
    if (event.key !== "ArrowUp" && event.key !== "ArrowDown") return;
    event.preventDefault();
    post(act, { by: (event.key === "ArrowUp" ? 1 : -1) * (event.shiftKey ? 5 : 1) });
  }
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && document.body.classList.contains("drawer-open") && !$("[popover]:popover-open")) $("#close-case").click();
    if (event.altKey || event.ctrlKey || event.metaKey) return;
    const group = event.target.closest("[data-keys]");
    if (!group) return;
    if (group.dataset.keys === "slots") slotKeys(event, group);
    if (group.dataset.keys === "rails") {
      const press = { Delete: "#take", Backspace: "#take", "+": "#step-plus", "=": "#step-plus", "-": "#step-minus", "−": "#step-minus" }[event.key];
      const button = press && $(press);
      if (button && !button.disabled) { event.preventDefault(); button.form.requestSubmit(button); }
    }
    if (group.dataset.keys === "hand") handKeys(event);
    if (group.dataset.keys === "handle") numberKeys(event, group, "aim");
    if (group.dataset.keys === "block") blockKeys(event, group);
    if (group.dataset.keys === "axis") numberKeys(event, group, "turn");
  });

  // The axis on the degree scale: drag or press, snapping to 5 degrees
  let dragged = null;
  function angleAt(event, dial) {
    const box = dial.getBoundingClientRect();
    const x = event.clientX - (box.left + box.width / 2), y = box.top + box.height / 2 - event.clientY;
    const widest = Number($("#axis").getAttribute("aria-label").match(/(\d+)$/)[1]);
    const angle = (Math.round((Math.atan2(y, x) * 180) / Math.PI / 5) * 5 + 720) % widest;
    return angle || widest;
  }
  document.addEventListener("pointerdown", (event) => {
    const dial = event.target.closest("[data-dial]");
    const chosen = $("input[name=at]:checked");
    if (!dial || !$("#axis") || !chosen || chosen.value[0] !== dial.dataset.dial) return;
    dragged = dial;
    dial.setPointerCapture(event.pointerId);
    $("#axis").value = angleAt(event, dial);
  });
  document.addEventListener("pointermove", (event) => { if (dragged && $("#axis")) $("#axis").value = angleAt(event, dragged); });
  document.addEventListener("pointerup", (event) => {
    if (!dragged) return;
    const to = angleAt(event, dragged);
    dragged = null;
    post("turn", { to });
  });
})();

// A step that is linked to is unfolded, however the browser got there.
(() => {
  "use strict";
  function unfold() {
    const step = location.hash.startsWith("#step-") && document.getElementById(location.hash.slice(1));
    if (!step) return;
    for (let at = step.closest("details"); at; at = at.parentElement.closest("details")) at.open = true;
    step.scrollIntoView();
  }
  window.addEventListener("hashchange", unfold);
  window.addEventListener("DOMContentLoaded", unfold);
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[href^='#step-']");
    if (link && link.getAttribute("href") === location.hash) unfold();
  });
})();

// The demonstration: one step at a time; without this script all steps stand below each other.
(() => {
  "use strict";
  const stepper = document.querySelector("[data-stepper]");
  if (!stepper) return;
  const steps = [...stepper.querySelectorAll(".watch-step")];
  const keys = stepper.querySelector(".stepper-keys");
  let at = 0;
  function show(to) {
    at = Math.max(0, Math.min(steps.length - 1, to));
    steps.forEach((step, index) => { step.hidden = index !== at; });
    keys.querySelector("[role=status]").textContent = `${at + 1} of ${steps.length}`;
    keys.querySelector("[data-step='-1']").disabled = at === 0;
    keys.querySelector("[data-step='1']").disabled = at === steps.length - 1;
  }
  stepper.addEventListener("click", (event) => {
    const button = event.target.closest("[data-step]");
    if (button) show(at + Number(button.dataset.step));
  });
  document.addEventListener("keydown", (event) => {
    if (event.key === "ArrowRight") show(at + 1);
    if (event.key === "ArrowLeft") show(at - 1);
  });
  keys.hidden = false;
  show(0);
})();

// A station's bell: counts down from what the server said, warns once a minute before, sends what
// is just being typed, and leads on when it has rung. The server alone decides what is in time.
(() => {
  "use strict";
  const bell = document.querySelector("[data-left]");
  if (!bell) return;
  const until = Date.now() + Number(bell.dataset.left) * 1000;
  const inRoom = document.querySelector("#room") !== null;
  let warned = false, sent = null, gone = false;
  function tick() {
    const left = Math.max(0, Math.ceil((until - Date.now()) / 1000));
    bell.querySelector(".time-left").textContent = `${Math.floor(left / 60)}:${String(left % 60).padStart(2, "0")}`;
    if (inRoom && left <= 60 && !warned) {
      warned = true;
      bell.classList.add("soon");
      bell.querySelector("[role=status]").textContent = left > 50 ? "One minute left." : `${left} seconds left.`;
    }
    const field = document.activeElement;
    if (left <= 2 && field && field.dataset.card && field.value !== field.defaultValue && field.value !== sent) {
      sent = field.value;
      field.dispatchEvent(new Event("change", { bubbles: true }));
    }
    if (until + 800 <= Date.now() && !gone) { gone = true; location.assign(bell.dataset.leads); }
  }
  setInterval(tick, 250);
  tick();
  window.addEventListener("pageshow", (event) => { if (event.persisted) location.reload(); });
})();
