// The page: what is entered becomes an enquiry to this service, and its answer is shown. Nothing is kept but in the address.

import { OperatingMap } from "./map.js";
import { EVIDENCE, KINDS, VERDICT, capital, convert, el, entry, lifetime, number, percent, plain, pretty, quantity, status, unit } from "./words.js";

const $ = (id) => document.getElementById(id);
const form = $("form");
const EXAMPLE = "shaft=45&speed=1450&pressure=0.3&temperature=80&coldest=-10&hottest=110&fluid=polyalphaolefin_oil&runout=0.1&offset=0.1&life=5000&hardness=45&roughness=0.3&lead=none&dirt=dusty";
const LABELS = { second_lip: "Before the main lip", lip_tip: "Tip of the lip", reinforcing_band: "Band", retention: "Held in the bore", lip_form: "Form of the lip", energizer: "Energizer", heel: "Heel" };
const FIRST = { second_lip: "excluder" };
const RANK = { fail: 0, caution: 1, not_evaluated: 2, pass: 3 };
const PARTS = ["selection", "check", "gland", "thermal_fit", "friction", "wear"];

const lists = {};
let token = "", turn = 0, asking = null, waiting = null, last = null, told = "", shown = { body: null, answer: null };

// ---------------------------------------------------------------------------------------------------------- the service

class Refusal extends Error {
  constructor(problem, after) { super(problem.message || problem.detail || problem.title); Object.assign(this, { problem, after }); }
}

const call = async (path, { body, accept = "application/json", signal } = {}) => {
  const headers = { accept, "accept-language": "en" };
  if (token) headers.authorization = `Bearer ${token}`;
  if (body) headers["content-type"] = "application/json";
  const answer = await fetch(path, { method: body ? "POST" : "GET", headers, body: body && JSON.stringify(body), signal, credentials: "omit" });
  if (answer.ok) return accept === "application/json" ? answer.json() : answer.blob();
  const problem = await answer.json().catch(() => ({ title: `The service answered with ${answer.status}.` }));
  throw new Refusal({ status: answer.status, ...problem }, answer.headers.get("retry-after"));
};

// ------------------------------------------------------------------------------------------------------------- the form

const controls = () => [...form.querySelectorAll("[data-at]")];
const system = () => document.querySelector("input[name=u]:checked").value;
const radio = (name) => form.querySelector(`input[name=${name}]:checked`).value;
const asks = (control) => !control.closest("[hidden]");
const isText = (text) => /[^\d\s.,+\-−eE]/.test(text);
const labelOf = (control) => {
  const words = form.querySelector(`label[for="${control.id}"]`).textContent;
  return control.closest(".three") ? `Temperature, ${words}` : words;
};

// A number in the unit beside the field, as a quantity where that is plain; whatever else is written the service reads.
const stated = (control) => {
  const text = control.value.trim(), kind = KINDS[control.dataset.kind][system()];
  if (/^[+\-−]?\d+(\.\d+)?$/.test(text)) return { value: Number(text.replace("−", "-")), unit: kind };
  return isText(text) ? text : `${text} ${kind}`;
};

// A choice, a name, or where a field counts a whole number; what is none is left for the service to refuse.
const asWritten = (control) => {
  const text = control.value.trim();
  return "count" in control.dataset && /^\d+$/.test(text) ? Number(text) : ({ true: true, false: false }[text] ?? text);
};

const put = (body, pointer, value) => {
  const path = pointer.slice(1).split("/"), last = path.pop();
  path.reduce((inside, name) => (inside[name] ??= {}), body)[last] = value;
};

const enquiry = () => {
  const body = { duty: { motion: { kind: radio("motion") } } };
  if (radio("seal")) body.design = { family: radio("family"), ...(form.elements.extra.value ? JSON.parse(form.elements.extra.value) : {}) };
  for (const control of controls().filter(asks)) {
    const at = control.dataset.at;
    if (control.type === "checkbox") control.checked && put(body, at, true);
    else if (control.id === "fluid") control.dataset.name && put(body, at, control.dataset.name);
    else if (control.value.trim()) {
      put(body, at, control.dataset.kind ? stated(control) : asWritten(control));
      if (control.dataset.sort) put(body, at.replace(/\w+$/, "kind"), control.dataset.sort); // one of several ways to say it
    }
  }
  body.units = system() === "us" ? { system: "us" } : { system: "si", gauge_pressure: "bar" };
  return body;
};

const decorate = (control) => {
  if (control.dataset.kind) {
    Object.assign(control, { inputMode: "decimal", spellcheck: false });
    const entry = el("span", { class: "entry" });
    control.replaceWith(entry);
    entry.append(control, el("span", { class: "unit", id: `${control.id}-unit` }));
  }
  control.closest(".field").append(el("p", { class: "fault", id: `${control.id}-fault`, hidden: true }));
};

const unitsBeside = () => {
  for (const control of controls().filter((item) => item.dataset.kind)) {
    const worded = isText(control.value);
    $(`${control.id}-unit`).textContent = unit(KINDS[control.dataset.kind][system()]);
    control.closest(".entry").classList.toggle("worded", worded);
    const fault = $(`${control.id}-fault`).hidden ? "" : ` ${control.id}-fault`;
    const described = `${worded ? "" : `${control.id}-unit`}${fault}`.trim();
    if (described) control.setAttribute("aria-describedby", described);
    else control.removeAttribute("aria-describedby");
  }
};

const fits = () => {
  const own = radio("seal") === "own", family = radio("family");
  for (const field of form.querySelectorAll("[data-motion]")) field.hidden = field.dataset.motion !== radio("motion");
  $("design").hidden = !own;
  for (const field of form.querySelectorAll("[data-family]")) field.hidden = field.dataset.family !== family;
  const held = form.elements.retention?.value;
  for (const field of form.querySelectorAll("[data-held]")) field.hidden = field.dataset.held !== held;
  for (const control of form.querySelectorAll("#options select")) {
    const found = lists.options.find((item) => item.family === family && item.field === control.name && String(item.value) === control.value);
    $(`${control.id}-effect`).textContent = found?.effect ? capital(found.effect) : "";
  }
  const stated = controls().filter((item) => item.closest("#hardware") && (item.type === "checkbox" ? item.checked : item.value)).length;
  $("hardware-given").textContent = stated ? `(${stated} stated)` : "";
  unitsBeside();
};

// The choices of a family are those that the rules list.
const choices = (family) => {
  const fields = new Map();
  for (const option of lists.options.filter((item) => item.family === family)) fields.set(option.field, [...(fields.get(option.field) ?? []), option]);
  const before = Object.fromEntries([...form.querySelectorAll("#options select")].map((control) => [control.name, control.value]));
  $("options").replaceChildren(...[...fields].map(([field, options]) => {
    const control = el("select", { id: `option-${field}`, name: field, "data-at": `/design/${field}`, "aria-describedby": `option-${field}-effect` },
      options.map((item) => el("option", { value: String(item.value) }, capital(item.title))));
    const held = options.find((item) => String(item.value) === before[field]) ?? options.find((item) => item.value === FIRST[field]) ?? options[0];
    control.value = String(held.value);
    return el("div", { class: "field full" }, el("label", { for: control.id }, LABELS[field] ?? plain(field)), control,
      el("p", { class: "effect", id: `option-${field}-effect` }), el("p", { class: "fault", id: `${control.id}-fault`, hidden: true }));
  }));
};

const toward = (to) => {
  for (const control of controls().filter((item) => item.dataset.kind && item.value.trim() && !isText(item.value))) {
    const { kind } = control.dataset, value = Number(control.value.trim().replace("−", "-"));
    if (Number.isNaN(value) || KINDS[kind].si === KINDS[kind].us) continue;
    const back = control.dataset.became === control.value ? control.dataset.was : entry(convert(value, kind, to), to === "us" ? 6 : 5);
    Object.assign(control.dataset, { was: control.value, became: back });
    control.value = back;
  }
};

const given = (control, value) => {
  if (control.type === "checkbox") control.checked = value === true;
  else if (value !== null && typeof value === "object") {
    const own = control.dataset.kind && KINDS[control.dataset.kind][system()] === value.unit;
    control.value = own ? entry(value.value) : `${entry(value.value)} ${value.unit}`;
  } else control.value = String(value);
};

const takeOver = (design) => {
  form.querySelector("input[name=seal][value=own]").checked = true;
  form.querySelector(`input[name=family][value=${design.family}]`).checked = true;
  choices(design.family);
  const extra = {};
  for (const control of controls().filter((item) => item.dataset.at.startsWith("/design/") && !item.closest("#options"))) {
    if (control.tagName === "SELECT") control.selectedIndex = 0;
    else control.value = "";
  }
  for (const [name, value] of Object.entries(design)) {
    const control = controls().find((item) => item.dataset.at === `/design/${name}`);
    const options = lists.options.filter((item) => item.field === name);
    if (options.length && !options.some((item) => item.family === design.family && item.value === value)) continue; // of the other family
    if (control) given(control, value);
    else if (name !== "family") extra[name] = value;
  }
  form.elements.extra.value = Object.keys(extra).length ? JSON.stringify(extra) : "";
  fits();
};

// ---------------------------------------------------------------------------------------------------------- the address

const written = () => {
  const found = new URLSearchParams();
  if (system() === "us") found.set("u", "us");
  const own = radio("seal") === "own";
  for (const control of form.elements) {
    if (!control.name || control.name === "fluid" || (!own && control.closest("#design")) || control.closest("[data-motion][hidden]")) continue;
    if (control.type === "radio") control.checked && !control.defaultChecked && found.set(control.name, control.value);
    else if (control.type === "checkbox") control.checked && found.set(control.name, "yes");
    else if (control.value.trim()) found.set(control.name, control.value.trim());
  }
  if ($("fluid").dataset.name) found.set("fluid", $("fluid").dataset.name);
  return found.toString().replaceAll("%2F", "/");
};

const restore = async (text) => {
  const from = new URLSearchParams(text), lost = [];
  document.querySelector(`input[name=u][value=${from.get("u") === "us" ? "us" : "si"}]`).checked = true;
  for (const name of ["motion", "seal", "family"]) {
    const item = [...form.querySelectorAll(`input[name=${name}]`)].find((one) => one.value === (from.get(name) ?? ""));
    (item ?? form.querySelector(`input[name=${name}]`)).checked = true;
  }
  choices(radio("family"));
  for (const control of form.elements) {
    if (!control.name || control.type === "radio" || (control.closest("#options") && !from.has(control.name))) continue;
    const value = from.get(control.name) ?? "";
    if (control.type === "checkbox") control.checked = value !== "";
    else control.value = value;
    if (control.tagName === "SELECT") {
      if (control.value !== value) lost.push(labelOf(control));
      if (control.selectedIndex < 0) control.selectedIndex = 0;
    }
  }
  try { JSON.parse(form.elements.extra.value || "{}"); } catch { form.elements.extra.value = ""; lost.push("Design"); }
  const name = from.get("fluid") ?? "";
  Object.assign($("fluid").dataset, { name });
  $("fluid").value = name && plain(name);
  if (/^\w+$/.test(name)) {
    const found = await call(`v1/fluids/${name}`).catch((error) => (error.problem?.status === 404 ? null : Promise.reject(error)));
    if (found) $("fluid").value = pretty(found.fluid.title);
  }
  told = lost.length ? `The link holds something that is not known here, which was left out: ${lost.join(", ")}.` : "";
  fits();
};

// -------------------------------------------------------------------------------------------------------------- faults

const clear = () => {
  for (const control of controls()) {
    control.removeAttribute("aria-invalid");
    $(`${control.id}-fault`).hidden = true;
  }
};

const blame = (pointer, text) => {
  const near = controls().filter(asks).filter(({ dataset: { at } }) => pointer === at || pointer.startsWith(`${at}/`) || at.startsWith(`${pointer}/`));
  const control = near.sort((a, b) => b.dataset.at.length - a.dataset.at.length)[0];
  if (!control) return null;
  control.setAttribute("aria-invalid", "true");
  const fault = $(`${control.id}-fault`);
  Object.assign(fault, { hidden: false, textContent: pretty(text) });
  control.setAttribute("aria-describedby", fault.id);
  const more = control.closest("details");
  if (more) more.open = true;
  return control;
};

const notice = (text, { again = false } = {}) => {
  $("notice").hidden = !text;
  $("notice").firstElementChild.textContent = text;
  $("again").hidden = !again;
};

const refused = (error) => {
  if (error.name === "AbortError") return;
  $("answer").classList.add("old");
  $("brief").hidden = true;
  const { problem } = error;
  if (!problem) return notice("The service cannot be reached.", { again: true });
  if (problem.status === 401 || problem.status === 403) {
    $("access").hidden = false;
    $("token").focus();
    return notice(error.message);
  }
  const elsewhere = (problem.errors ?? []).filter(({ pointer, message, detail }) => !blame(pointer, message || detail));
  const marked = (problem.errors ?? []).length > elsewhere.length;
  unitsBeside();
  const rest = elsewhere.map(({ pointer, message, detail }) => `${message || detail} (${plain(pointer.slice(1).replaceAll("/", ", "))})`);
  const asked = error.after ? ` Ask again in ${error.after} s.` : "";
  const text = marked ? ["Something in the enquiry cannot be taken: see the marked fields.", ...rest].join(" ") : `${error.message}${asked}`;
  return notice(pretty(text), { again: problem.status >= 429 });
};

// -------------------------------------------------------------------------------------------------------------- answer

const fill = (place, ...parts) => place.replaceChildren(...parts.filter(Boolean));
const governs = ({ title, utilization }) => `${capital(title)}${utilization === null ? "" : ` at ${percent(utilization)} of its limit`}`;
const lower = (text) => (/^[A-Z]{2}/.test(text) ? text : text.charAt(0).toLowerCase() + text.slice(1));
const facts = (pairs) => pairs.filter(Boolean).map(([name, value, under]) => el("div", {}, el("dt", {}, name), el("dd", {}, value, under && el("small", {}, under))));

const groups = (answer) => {
  const seen = new Set(), found = [];
  for (const [part, title] of [["check", "In running"], ["gland", "In the gland"], ["thermal_fit", "Over the temperatures"]]) {
    const rows = (answer[part]?.criteria ?? []).filter((row) => !seen.has(`${row.id} ${row.reason}`));
    rows.forEach((row) => seen.add(`${row.id} ${row.reason}`));
    found.push({ part, title, rows: [...rows].sort((a, b) => RANK[a.status] - RANK[b.status] || (b.utilization ?? 0) - (a.utilization ?? 0)) });
  }
  const summed = [["friction", "contact temperature and torque"], ["wear", "life"]].filter(([part]) => answer[part])
    .map(([part, title]) => ({ id: part, title, status: answer[part].verdict, demand: null, capacity: null, utilization: null, reason: answer[part].summary, remedies: [] }));
  return [...found, { part: "", title: "Friction and wear", rows: summed }].filter(({ rows }) => rows.length);
};

const levels = (answer) => Object.fromEntries((answer.friction?.levels ?? []).map((level) => [level.level, level]));
const between = (low, high, told = quantity) => `${told(low).split("\u00a0")[0]} to ${told(high)}`;

// The row that decides: the worst verdict, and of those the share of the limit that is most.
const ORDER = { fail: 0, caution: 1, pass: 2, not_evaluated: 3 };
const decides = (answer) => {
  const share = (row) => row.utilization ?? (row.status === "fail" ? 1 : 0);
  const row = groups(answer).flatMap((group) => group.rows).sort((a, b) => ORDER[a.status] - ORDER[b.status] || share(b) - share(a))[0];
  const { wear } = answer, wanted = shown.body.target_life;
  if (row.id === "wear" && wear.life?.nominal) return { big: "Life", short: `life ${lifetime(wear.life.nominal)}`, under: `${between(wear.life.short, wear.life.long, lifetime)}${wanted ? `; ${typeof wanted === "string" ? wanted : quantity(wanted)} wanted` : ""}` };
  return row.utilization === null ? { big: capital(row.title), short: row.title, under: VERDICT[row.status] } : { short: `${row.title} at ${percent(row.utilization)}`, big: percent(row.utilization), under: `${row.title}, of its limit` };
};

const showVerdict = (answer) => {
  const { low, nominal, high } = levels(answer), life = answer.wear?.life, counts = answer.selection?.counts;
  const passing = counts && counts.passing + counts.with_caution;
  const from = {
    given: "Your design.",
    selected: `Proposed by the service${counts ? `: ${number(passing, 6)} of ${number(counts.evaluated, 6)} designs pass the envelope check` : ""}.`,
    nearest: `No design passes${counts ? ` of ${number(counts.evaluated, 6)}` : ""}; this one comes nearest.`,
  }[answer.chosen];
  const { big, under } = decides(answer);
  $("verdict").className = `verdict ${answer.verdict}`;
  fill($("verdict"),
    el("p", { class: `status ${answer.verdict}`, id: "word" }, capital(VERDICT[answer.verdict])),
    el("p", { class: "seal" }, capital(answer.title)),
    el("p", { class: "said" }, pretty(answer.summary)),
    el("p", { class: "from" }, from, answer.chosen !== "given" && el("button", { type: "button", "data-key": "take-over", click: () => change(() => takeOver(answer.design)) }, "Take this design over")),
    el("dl", { class: "figures" }, facts([
      ["What governs", big, under],
      life?.nominal && ["Life, by wear", lifetime(life.nominal), between(life.short, life.long, lifetime)],
      nominal && ["Torque", quantity(nominal.torque), between(low.torque, high.torque)],
      nominal && ["Frictional heat", quantity(nominal.power), between(low.power, high.power)],
      nominal && ["Contact temperature", quantity(nominal.contact_temperature), `the compound stands ${quantity(answer.friction.temperature_limit)}`],
      answer.friction && ["Surface speed", quantity(answer.friction.surface_speed)],
    ])),
  );
};

const mark = (answer) => ({
  verdict: answer.verdict, title: answer.title, life: answer.wear?.life?.nominal, text: written(), units: system(),
  rows: new Map(groups(answer).flatMap((group) => group.rows.map((row) => [`${group.part} ${row.id}`, row]))),
});

// What came out otherwise than at the answer before.
const showTurned = (now) => {
  const before = last;
  $("turned").hidden = !before || before.text === now.text || before.units !== now.units;
  if ($("turned").hidden) return;
  const was = new URLSearchParams(before.text), is = new URLSearchParams(now.text);
  const names = [...new Set([...was.keys(), ...is.keys()])].filter((name) => was.get(name) !== is.get(name) && name !== "extra");
  const changed = names.map((name) => ({ fluid: "Fluid", motion: "Movement", seal: "Who chooses", family: "Family" })[name] ?? (form.elements[name]?.id ? labelOf(form.elements[name]) : null)).filter(Boolean);
  const items = [];
  if (before.title !== now.title && !(was.get("seal") && is.get("seal"))) items.push(el("li", {}, `The seal is now: ${now.title}.`));
  const moved = [];
  for (const [key, row] of now.rows) {
    const old = before.rows.get(key);
    if (old && old.status !== row.status) items.push(el("li", {}, `${capital(row.title)}: `, status(old.status), " → ", status(row.status), old.utilization !== null && row.utilization !== null && ` (${percent(old.utilization)} → ${percent(row.utilization)})`));
    else if (old && old.utilization !== null && row.utilization !== null && Math.abs(old.utilization - row.utilization) > 0.02) moved.push([Math.abs(old.utilization - row.utilization), old, row]);
  }
  if (before.verdict !== now.verdict) items.unshift(el("li", {}, "The verdict: ", status(before.verdict), " → ", status(now.verdict)));
  const turned = items.length;
  for (const [, old, row] of moved.sort((a, b) => b[0] - a[0]).slice(0, 3)) items.push(el("li", {}, `${capital(row.title)}: ${percent(old.utilization)} → ${percent(row.utilization)} of its limit`));
  if (before.life && now.life && Math.abs(before.life.value / now.life.value - 1) > 0.01) items.push(el("li", {}, `Life, by wear: ${lifetime(before.life)} → ${lifetime(now.life)}`));
  if (!turned) items.unshift(el("li", {}, "No verdict turned."));
  const fields = changed.length > 3 ? `${changed.length} fields changed` : changed.join(", ");
  fill($("turned"), el("h3", { id: "turned-head" }, `What turned${fields ? `: ${fields}` : ""}`), el("ul", {}, items));
};

const bar = (row) => {
  const most = 1.25, end = Math.min(row.utilization, most) / most * 92;
  return el("div", { class: `used ${row.status}` }, el("svg:svg", { viewBox: "0 0 92 10", "aria-hidden": "true" }, el("svg:rect", { class: "track", width: 92, height: 8, y: 1 }), el("svg:rect", { class: "fill", width: end.toFixed(1), height: 8, y: 1 }), el("svg:path", { class: "mark", d: `M${92 / most} 0v10` })), el("span", {}, percent(row.utilization)));
};

const remedies = (row, answer) => row.remedies.length > 0 && el("ul", { class: "remedies" }, row.remedies.slice(0, 4).map((remedy) => {
  const applies = Object.keys(remedy.design).length > 0;
  return el("li", {}, applies && el("button", { type: "button", "data-key": `remedy ${remedy.change}`, click: () => change(() => takeOver({ ...answer.design, ...remedy.design })) }, "Try"),
    el("span", {}, `${capital(pretty(remedy.title))}${remedy.utilization === null ? "" : `: ${percent(remedy.utilization)} of the limit`}`), remedy.evaluated && status(remedy.verdict, `whole check ${VERDICT[remedy.verdict]}`));
}));

let everything = false;
const showCriteria = (answer) => {
  const tick = el("input", { type: "checkbox", "data-key": "reasons", id: "reasons" });
  tick.checked = everything;
  const body = [];
  for (const { title, rows } of groups(answer)) {
    body.push(el("tr", { class: "group" }, el("th", { colspan: 5, scope: "colgroup" }, title)));
    for (const row of rows) {
      const told = row.status !== "pass" || row.id === "friction" || row.id === "wear";
      body.push(el("tr", { class: told || everything ? "has" : null }, el("th", { scope: "row" }, capital(row.title)), el("td", { class: "n pair-cell" }, row.demand && quantity(row.demand)), el("td", { class: "n limit-cell" }, row.capacity && (row.id === "life" ? lifetime : quantity)(row.capacity)),
        el("td", { class: "used-cell" }, row.utilization !== null && bar(row)), el("td", { class: "verdict-cell" }, status(row.status))));
      const why = el("tr", { class: "why", hidden: !told && !everything }, el("td", { colspan: 5, class: "reason" }, pretty(row.reason), remedies(row, answer)));
      if (!told) why.dataset.passing = "";
      body.push(why);
    }
  }
  tick.addEventListener("change", () => {
    everything = tick.checked;
    for (const why of $("criteria").querySelectorAll("[data-passing]")) {
      why.hidden = !everything;
      why.previousElementSibling.classList.toggle("has", everything);
    }
  });
  const missing = answer.unanswered.map((item) => el("p", { class: "fault" }, `${plain(item.part)} could not be answered: ${pretty(item.detail)}.`));
  fill($("criteria"),
    el("div", { class: "head" }, el("h3", { id: "criteria-head", tabindex: "-1" }, "Criteria"), el("label", {}, tick, " give every reason")), ...missing,
    el("div", { class: "over" }, el("table", { class: "criteria-table" }, el("thead", {}, el("tr", {}, ["Criterion", "Demand", "Limit", "Share of the limit", "Verdict"].map((text, k) => el("th", { scope: "col", class: k && k < 4 ? "n" : null }, text)))), el("tbody", {}, body))),
    el("p", { class: "hint" }, answer.evidence ? `The weakest it rests on: ${EVIDENCE[answer.evidence]}.` : ""),
  );
};

const said = (field, value) => {
  if (typeof value === "object") return quantity(value, 4);
  const control = controls().find((item) => item.dataset.at === field);
  const option = control?.tagName === "SELECT" && [...control.options].find((item) => item.value === String(value));
  if (option) return option.textContent;
  const known = Object.values(lists).find((list) => list[value]?.title);
  return known ? known[value].title : field.endsWith("correlation") ? value.split("_").map(capital).join(" and ") : /^[a-z]+_[a-z_]+$/.test(value) ? lower(plain(value)) : String(value);
};

const called = (field) => {
  const control = controls().find((item) => item.dataset.at === field);
  if (control) return labelOf(control);
  const path = field.slice(1).split("/").slice(1);
  return capital(path.map((name) => lower(plain(name))).join(", ").replace(/^shaft, /, "shaft: ").replace(/^bore, /, "bore: "));
};

// Criteria that a question by another name is about.
const ASKED_FOR = { machining_lead: "shaft_lead", target_life: "wear" };

const showConfirm = (answer) => {
  const asked = answer.questions ?? [], ids = new Set(asked.map(({ id }) => ASKED_FOR[id] ?? id));
  const missing = groups(answer).flatMap((group) => group.rows).filter((row) => row.status === "not_evaluated" && !ids.has(row.id));
  const kept = answer.assumptions.filter(({ field }) => /^\/(duty|gland|surroundings|design)\//.test(field));
  const machine = kept.filter(({ field }) => !field.startsWith("/design/")), sizes = kept.filter(({ field }) => field.startsWith("/design/"));
  const line = ({ field, value }) => {
    const control = controls().find((item) => item.dataset.at === field && (field.startsWith("/design/") ? radio("seal") : true));
    const confirm = control && el("button", { type: "button", "data-key": `confirm ${field}`, "aria-label": `Confirm ${called(field)}`, click: () => change(() => { given(control, value); const more = control.closest("details"); if (more) more.open = true; }) }, "Confirm");
    return el("tr", {}, el("th", { scope: "row" }, called(field)), el("td", {}, said(field, value)), el("td", { class: "n" }, confirm));
  };
  const table = (items, caption) => items.length > 0 && el("table", { class: "asked" }, el("thead", {}, el("tr", {}, el("th", { scope: "col" }, caption), el("th", { scope: "col" }, "Taken"), el("th", { scope: "col" }, el("span", { class: "unseen" }, "Confirm")))), el("tbody", {}, items.map(line)));
  const open = $("sizes")?.open;
  $("confirm").hidden = !asked.length && !missing.length && !kept.length;
  fill($("confirm"),
    el("h3", { id: "confirm-head", tabindex: "-1" }, "To be given or confirmed"),
    answer.confidence && el("p", { class: "hint", id: "confidence" }, pretty(answer.confidence.text)),
    answer.confidence?.spread && el("p", { class: "hint" }, pretty(answer.confidence.spread.text)),
    asked.length > 0 && el("ul", { class: "points", id: "asked" }, asked.map((item) => el("li", {}, item.text, el("span", { class: "reason" }, pretty(item.reason))))),
    missing.length > 0 && el("ul", { class: "points" }, missing.map((row) => el("li", {}, status("not_evaluated", capital(row.title)), el("span", { class: "reason" }, row.id === "wear" && !form.elements.life.value ? "No life wanted is stated." : pretty(row.reason))))),
    machine.length > 0 && el("p", { class: "hint" }, "What the enquiry leaves open was taken from the rules. What you know better, enter; what is so, confirm."),
    table(machine, "Of the machine"),
    sizes.length > 0 && el("details", { class: "sizes", id: "sizes", open: open || null }, el("summary", {}, `Sizes of the seal by the rules (${sizes.length})`), table(sizes, "Of the seal")),
  );
};

const showRequirements = (answer) => {
  const list = (items) => el("ul", { class: "points" }, items.map((item) => el("li", {}, pretty(item.text), el("span", { class: "reason" }, pretty(item.reason)))));
  $("requirements").hidden = !answer.requirements.length && !answer.expectations.length;
  fill($("requirements"),
    el("h3", { id: "requirements-head" }, "To stand on the drawing of the hardware"), answer.requirements.length ? list(answer.requirements) : el("p", { class: "hint" }, "Nothing beyond the fits."),
    answer.expectations.length > 0 && el("h4", {}, "To be expected in running"), answer.expectations.length > 0 && list(answer.expectations),
  );
};

const showOthers = (answer) => {
  const ranked = answer.selection?.ranked ?? [], near = ranked.length ? [] : answer.selection?.near_misses ?? [];
  const take = (design, key) => el("button", { type: "button", "data-key": key, click: () => change(() => takeOver(design)) }, "Take over");
  const known = { would_do: "would do as well", sounder: "would be the sounder choice" };
  const rest = (item) => [item.life && `life ${lifetime(item.life)}`, item.torque && `torque ${quantity(item.torque)}`].filter(Boolean).join(", ");
  $("others").hidden = !answer.alternatives.length && !ranked.length && !near.length;
  fill($("others"),
    el("h3", { id: "others-head", tabindex: "-1" }, "Other ways"),
    answer.alternatives.length > 0 && el("ul", { class: "points" }, answer.alternatives.map((item) => el("li", {}, el("strong", {}, item.title), ` ${known[item.verdict] ?? plain(item.verdict)}.`, el("span", { class: "reason" }, pretty(item.reason))))),
    ranked.length > 0 && el("h4", {}, "Designs that pass, the best first"),
    ranked.length > 0 && el("ul", { class: "points" }, ranked.slice(0, 5).map((item) => el("li", {}, el("div", { class: "head" }, el("span", {}, capital(item.title)), take(item.design, `ranked ${item.rank}`)), el("span", { class: "reason" }, status(item.verdict), ` ${governs(item.governing)}; ${rest(item)}.`)))),
    near.length > 0 && el("h4", {}, "Designs that fail by little"),
    near.length > 0 && el("ul", { class: "points" }, near.slice(0, 5).map((item, k) => el("li", {}, el("div", { class: "head" }, el("span", {}, capital(item.title)), take(item.design, `near ${k}`)), el("span", { class: "reason" }, `${governs(item.governing)}.${item.change ? ` It would take: ${pretty(item.change.title)}.` : ""}`)))),
  );
};

const show = (answer) => {
  const key = document.activeElement?.dataset?.key, home = document.activeElement?.closest?.("section")?.id;
  const now = mark(answer);
  $("answer").classList.remove("old");
  notice(told);
  told = "";
  showVerdict(answer);
  showTurned(now);
  showCriteria(answer);
  showConfirm(answer);
  showRequirements(answer);
  showOthers(answer);
  for (const id of ["verdict", "criteria", "take", "cautions"]) $(id).hidden = false;
  document.querySelector(".pictures").hidden = false;
  $("drawing-title").textContent = capital(answer.title);
  $("cautions").replaceChildren(el("h3", { id: "cautions-head" }, "Cautions"), el("ul", {}, answer.cautions.map((item) => el("li", {}, pretty(item.text)))));
  const { rule_set: rules, fingerprint, engine } = answer.stamp;
  $("stamp").replaceChildren(`Rules ${rules.name} ${rules.version} as of ${rules.as_of}, engine ${engine}, fingerprint `, el("code", {}, fingerprint), ".");
  $("said").textContent = `${capital(VERDICT[answer.verdict])}. ${pretty(answer.summary)}`;
  if (answer.unanswered.length) answer.unanswered.forEach((item) => blame(item.field, `${capital(item.detail)}${item.accepted ? `; accepted: ${item.accepted}` : ""}.`));
  last = now;
  $("brief").hidden = false;
  $("brief").replaceChildren(status(answer.verdict, capital(VERDICT[answer.verdict])), `: ${decides(answer).short}`);
  if (key) (document.querySelector(`[data-key="${CSS.escape(key)}"]:not([hidden])`) ?? $(`${home}-head`) ?? $("answer")).focus({ preventScroll: true });
};

const ROOM = { greatest_speed: "Speed, up to", greatest_pressure: "Pressure, up to", deepest_vacuum: "Vacuum, down to", greatest_runout: "Runout, up to", greatest_temperature: "Fluid, as hot as", least_temperature: "Fluid, as cold as" };
const showMap = (answer) => {
  map.show(answer);
  $("legend").replaceChildren(...map.legend());
  const then = (item) => (item.governing ? `then ${item.governing.title}` : "nothing fails before");
  $("limits").replaceChildren(...facts(answer.limits.map((item) => [ROOM[item.id] ?? capital(item.title), item.value ? quantity(item.value) : "no value passes", item.value && ` ${then(item)}`])));
};

// The map, wide enough that the duty lies on it.
const mapped = async (body, design, signal) => {
  const kind = { rotation: "rotational_speed", surface: "surface_speed", oscillation: "frequency" }[body.duty.motion.kind];
  const ask = (x, y) => call("v1/operating-maps", { body: { duty: body.duty, design, units: { ...body.units, frequency: "1/min" }, x: { kind, points: 48, ...x }, y: { kind: "pressure", points: 48, ...y } }, signal });
  const answer = await ask(), wider = {};
  for (const axis of ["x", "y"]) {
    const at = answer.duty_point[axis], { values, unit } = answer[axis];
    if (at !== null && at > values.at(-1)) wider[axis] = { low: { value: Math.min(values[0], 0), unit }, high: { value: +(1.15 * at).toPrecision(3), unit } };
  }
  return Object.keys(wider).length ? ask(wider.x, wider.y) : answer;
};

// A picture that could not be had says why, in its place.
const lacks = (name, found) => {
  const why = found instanceof Error && found.name !== "AbortError" ? found : null;
  $(`${name}-figure`).classList.toggle("lacking", why !== null);
  $(`${name}-fault`).hidden = why === null;
  $(`${name}-fault`).textContent = why === null ? "" : why.problem ? `${pretty(why.message)}${why.after ? ` Ask again in ${why.after} s.` : ""}` : "The service cannot be reached.";
};

const ask = async () => {
  clearTimeout(waiting);
  asking?.abort();
  asking = new AbortController();
  const mine = ++turn, { signal } = asking;
  clear();
  unitsBeside();
  const body = enquiry();
  history.replaceState(null, "", `#${written()}`);
  $("answer").setAttribute("aria-busy", "true");
  try {
    const picture = call("v1/enquiries", { body: { ...body, parts: PARTS }, accept: "image/svg+xml", signal }).catch((error) => error);
    const answer = await call("v1/enquiries", { body: { ...body, parts: PARTS }, signal });
    if (mine !== turn) return;
    shown = { body, answer };
    show(answer);
    unitsBeside();
    const draw = async () => {
      const drawn = await picture;
      if (mine !== turn) return;
      lacks("drawing", drawn);
      if (drawn instanceof Blob) {
        URL.revokeObjectURL($("drawing").src);
        Object.assign($("drawing"), { src: URL.createObjectURL(drawn), alt: `Cross-section of the seal in its gland, to scale: ${answer.title}` });
      }
    };
    const place = async () => {
      const found = await mapped(body, answer.design, signal).catch((error) => error);
      if (mine !== turn) return;
      lacks("map", found);
      if (!(found instanceof Error)) showMap(found);
    };
    await Promise.all([draw(), place()]);
  } catch (error) {
    if (mine === turn) refused(error);
  } finally {
    if (mine === turn) $("answer").removeAttribute("aria-busy");
  }
};

const change = (act) => {
  act();
  fits();
  ask();
};
const soon = () => {
  clearTimeout(waiting);
  waiting = setTimeout(ask, 350);
};

// ----------------------------------------------------------------------------------------------------------- the fluid

const fluid = $("fluid"), fluids = $("fluids");
let found = [], active = -1, sought = 0;

const pickable = (open) => {
  fluids.hidden = !open;
  fluid.setAttribute("aria-expanded", String(open));
  if (!open) fluid.removeAttribute("aria-activedescendant");
};
const pointTo = (index) => {
  active = index;
  [...fluids.children].forEach((item, k) => item.setAttribute("aria-selected", String(k === index)));
  if (index >= 0) {
    fluid.setAttribute("aria-activedescendant", `fluid-${index}`);
    fluids.children[index]?.scrollIntoView({ block: "nearest" });
  }
};
const pick = (match) => {
  fluid.value = pretty(match.title);
  fluid.dataset.name = match.name;
  pickable(false);
  ask();
};
const seek = async (all = false) => {
  const text = fluid.value.trim(), mine = ++sought;
  if (!text && !all) return pickable(false);
  try {
    const answer = await call(text ? `v1/fluids?search=${encodeURIComponent(text.slice(0, 64))}` : "v1/fluids");
    if (mine !== sought) return undefined;
    found = text ? answer.matches.slice(0, 12) : Object.entries(answer.fluids).map(([name, { title }]) => ({ name, title, matched: title })).sort((a, b) => a.title.localeCompare(b.title));
  } catch (error) {
    return refused(error);
  }
  const items = found.map((match, k) => {
    const also = match.matched.toLowerCase() !== match.title.toLowerCase() && match.matched !== match.name.replaceAll("_", " ");
    const item = el("li", { role: "option", id: `fluid-${k}`, "aria-selected": "false" }, pretty(match.title), also && el("small", {}, `also called ${match.matched}`));
    item.addEventListener("mousedown", (event) => { event.preventDefault(); pick(match); });
    return item;
  });
  fluids.replaceChildren(...(items.length ? items : [el("li", { role: "option", "aria-disabled": "true", "aria-selected": "false" }, "No fluid of the rules is called so.")]));
  pickable(true);
  return pointTo(found.length ? 0 : -1);
};
fluid.addEventListener("input", () => {
  fluid.dataset.name = "";
  clearTimeout(waiting);
  waiting = setTimeout(() => seek(), 150);
});
fluid.addEventListener("keydown", (event) => {
  if (event.key === "ArrowDown" && fluids.hidden) seek(true);
  else if (event.key === "ArrowDown") pointTo(Math.min(active + 1, found.length - 1));
  else if (event.key === "ArrowUp" && !fluids.hidden) pointTo(Math.max(active - 1, 0));
  else if (event.key === "Enter" && !fluids.hidden && found[active]) pick(found[active]);
  else if (event.key === "Escape") pickable(false);
  else return;
  event.preventDefault();
});
fluid.addEventListener("blur", () => {
  pickable(false);
  if (fluid.dataset.name) return;
  blame("/duty/fluid", fluid.value.trim() ? "Choose a fluid from the list." : "Say which fluid.");
});

// ----------------------------------------------------------------------------------------------------------- elsewhere

const literal = (value) => (value === true ? "True" : value === false ? "False" : value === null ? "None" : Array.isArray(value) ? `[${value.map(literal).join(", ")}]`
  : typeof value === "object" ? `{${Object.entries(value).map(([name, item]) => `${JSON.stringify(name)}: ${literal(item)}`).join(", ")}}` : JSON.stringify(value));
const COPIES = {
  link: () => location.href,
  json: () => JSON.stringify(enquiry(), null, 2),
  curl: () => `curl -sS ${new URL("v1/enquiries", location.href.split("#")[0]).href} -H 'Content-Type: application/json'${token ? ' -H "Authorization: Bearer $GLANDWISE_TOKEN"' : ""} -d '${JSON.stringify(enquiry()).replaceAll("'", "'\\''")}'`,
  python: () => `from glandwise_client import GlandwiseClient; print(GlandwiseClient(${JSON.stringify(new URL(".", location.href.split("#")[0]).href.replace(/\/$/, ""))}).answer_enquiry(${literal(enquiry())}).summary)`,
};
for (const button of document.querySelectorAll("[data-copy]")) {
  button.addEventListener("click", async () => {
    const text = COPIES[button.dataset.copy](), box = $("copy");
    Object.assign(box, { hidden: false, value: text });
    try {
      await navigator.clipboard.writeText(text);
      $("copied").textContent = "Copied:";
    } catch {
      box.focus();
      box.select();
      $("copied").textContent = "This browser does not let a page copy: take it from here.";
    }
  });
}
const SAVES = { svg: ["image/svg+xml", "seal.svg"], dxf: ["image/vnd.dxf", "seal.dxf"], sheet: ["text/html", "enquiry.html"] };
for (const button of document.querySelectorAll("[data-save]")) {
  button.addEventListener("click", async () => {
    const [accept, name] = SAVES[button.dataset.save];
    try {
      const href = URL.createObjectURL(await call("v1/enquiries", { body: shown.body, accept }));
      el("a", { href, download: name }).click();
      setTimeout(() => URL.revokeObjectURL(href), 10000);
    } catch (error) {
      notice(error.message || "The service cannot be reached.");
    }
  });
}

// ---------------------------------------------------------------------------------------------------------------- begin

const map = new OperatingMap($("map"), {
  read: (told) => $("reading").replaceChildren(...(told ? [el("strong", {}, told.where), el("br"), status(told.found.verdict, capital(told.what))] : ["The duty does not say where it lies on this map."])),
  moved: ({ x, y }) => change(() => {
    const speed = { rotation: "speed", surface: "surface", oscillation: "frequency" }[radio("motion")];
    $(speed).value = entry(x);
    $("pressure").value = entry(y);
  }),
});

const begin = async () => {
  try {
    const [compounds, designs, materials, alloys, elastomers] = await Promise.all(["compounds", "designs", "shaft-materials", "alloys", "elastomers"].map((name) => call(`v1/${name}`)));
    Object.assign(lists, { compounds: compounds.compounds, options: designs.options, "shaft-materials": materials.shaft_materials, alloys: alloys.alloys, elastomers: elastomers.elastomers });
    for (const control of form.querySelectorAll("select[data-list]")) {
      control.replaceChildren(...[...control.options].filter((item) => !item.value), ...Object.entries(lists[control.dataset.list]).map(([name, { title }]) => el("option", { value: name }, pretty(title))));
    }
    const text = location.hash.slice(1);
    $("example").hidden = Boolean(text);
    await restore(text || EXAMPLE);
    await ask();
  } catch (error) {
    $("answer").removeAttribute("aria-busy");
    refused(error);
  }
};

form.append(el("input", { type: "hidden", name: "extra" }));
controls().forEach(decorate);
form.addEventListener("submit", (event) => event.preventDefault());
form.addEventListener("input", ({ target }) => {
  if (!target.name || target.type === "radio" || target.type === "checkbox" || target.tagName === "SELECT") return;
  unitsBeside();
  soon();
});
form.addEventListener("change", ({ target }) => {
  if (target.name === "seal" && target.value && shown.answer) return change(() => takeOver(shown.answer.design));
  if (target.name === "family") choices(target.value);
  if (target.name && (target.type === "radio" || target.type === "checkbox" || target.tagName === "SELECT")) change(() => {});
  return undefined;
});
$("units").addEventListener("change", ({ target }) => change(() => toward(target.value)));
$("again").addEventListener("click", () => (lists.options ? ask() : begin()));
$("use-token").addEventListener("click", () => {
  token = $("token").value.trim();
  $("access").hidden = true;
  notice("");
  return lists.options ? ask() : begin();
});
for (const link of document.querySelectorAll("a[href='#answer']")) {
  link.addEventListener("click", (event) => { event.preventDefault(); $("answer").focus(); $("answer").scrollIntoView(); });
}
window.addEventListener("hashchange", async () => { await restore(location.hash.slice(1) || EXAMPLE); last = null; ask(); });
begin();
