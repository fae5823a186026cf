/* The ballpark form: on its own page, and put into a contractor's page by one script tag:

     <script src="https://HOST/ballpark.js" data-key="KEY" data-locale="de" data-theme="light" data-region="US-NY" defer></script>

   Only data-key is needed; data-region names the region whose taxes are counted. The form stands in a
   shadow root after the tag. Each answer is told to the page by the event `ballpark` with
   {low, likely, high, currency, token}. */
"use strict";

(() => {
  const script = document.currentScript;
  const home = new URL(script.src).origin;
  const locale = known(script.dataset.locale) || known(document.documentElement.lang) || "en";
  const SQUARE_METRES_PER_SQUARE_FOOT = 0.09290304; // the foot is 0.3048 m
  const LONGEST_WAIT_MS = 15000;

  function known(tag) {
    try {
      return Intl.getCanonicalLocales(tag || [])[0];
    } catch {
      return undefined;
    }
  }

  // Putting the form in place

  async function embed() {
    const place = document.createElement("div");
    script.after(place);
    const asked = new URLSearchParams({ locale, theme: script.dataset.theme || "auto" });
    const [html, css] = await Promise.all([text(`/ballpark/form?${asked}`), text("/ballpark.css")]);
    const root = place.attachShadow({ mode: "open" });
    const sheet = new CSSStyleSheet();
    sheet.replaceSync(css);
    root.adoptedStyleSheets = [sheet];
    root.append(...new DOMParser().parseFromString(html, "text/html").body.childNodes);
    start(root.querySelector(".ballpark"), place);
  }

  async function text(path) {
    const answer = await fetch(home + path, { credentials: "omit" });
    if (!answer.ok) throw new Error(`${path}: ${answer.status}`);
    return answer.text();
  }

  function start(section, told) {
    const form = section.querySelector("form");
    const state = { section, form, told, texts: JSON.parse(section.dataset.texts), turn: 0 };
    form.addEventListener("change", ({ target }) => {
      if (target.name === "unit") form.querySelectorAll("[data-unit]").forEach((place) => (place.textContent = target.value));
    });
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      ask(state, event.submitter?.value === "narrow");
    });
  }

  // Asking

  async function ask(state, narrowing) {
    clearFaults(state);
    const { body, faults } = read(state.form);
    if (faults.length) return showFaults(state, faults);
    const turn = ++state.turn;
    state.form.setAttribute("aria-busy", "true");
    const { range, problem } = await send(body);
    if (turn !== state.turn) return; // a later question is on its way
    state.form.removeAttribute("aria-busy");
    if (range) show(state, range, narrowing);
    else showProblem(state, problem);
  }

  async function send(body) {
    try {
      const answer = await fetch(`${home}/v1/ballparks`, {
        method: "POST",
        credentials: "omit",
        headers: {
          "Authorization": `Bearer ${script.dataset.key || ""}`,
          "Content-Type": "application/json",
        },
        body: JSON.stringify(body),
        signal: AbortSignal.timeout(LONGEST_WAIT_MS),
      });
      const told = await answer.json();
      return answer.ok ? { range: told } : { problem: told };
    } catch {
      return { problem: { status: 0 } };
    }
  }

  function read(form) {
    const data = new FormData(form);
    const body = script.dataset.region ? { region: script.dataset.region } : {};
    const faults = [];
    for (const [name, value] of data) {
      const given = String(value).trim();
      if (!given || name === "unit") continue;
      const said = measured(name, given, data.get("unit") === "ft");
      if (said === undefined) faults.push(name);
      else body[name] = said;
    }
    if (!("area_m2" in body || "length" in body || faults.length)) faults.push("area_m2");
    return { body, faults };
  }

  function measured(name, given, feet) {
    const plain = given.replace(/\s/g, "").replace(/,(?!\d{3}$)/, "."); // 1,200 can be read two ways
    const bare = /^\d+(\.\d+)?$/.test(plain);
    if (name === "area_m2") return bare ? area(Number(plain), feet) : undefined;
    if (name !== "length" && name !== "width") return given;
    return bare ? `${plain} ${feet ? "ft" : "m"}` : given; // else such as 11 ft 9 in, which the service reads
  }

  function area(value, feet) {
    return feet ? Math.round(value * SQUARE_METRES_PER_SQUARE_FOOT * 1000) / 1000 : value;
  }

  // Faults, each beside its field

  function clearFaults({ section, form }) {
    section.querySelectorAll(".wrong, .alert").forEach((place) => (place.textContent = ""));
    form.querySelectorAll("[aria-invalid]").forEach((control) => control.removeAttribute("aria-invalid"));
  }

  function showFaults({ form, texts, section }, names) {
    const unknown = names.filter((name) => !showFault(form, texts, name));
    if (unknown.length) section.querySelector("[role=alert]").textContent = texts.problem;
    const first = form.querySelector("[aria-invalid]");
    first?.closest("details")?.setAttribute("open", "");
    first?.focus();
  }

  function showFault(form, texts, name) {
    const question = [...form.querySelectorAll("[data-question]")].find((one) => one.dataset.question === name);
    if (!question) return false;
    question.querySelector(".wrong").textContent = texts.faults[name] || texts.faults.other;
    question.querySelector("input, select").setAttribute("aria-invalid", "true");
    return true;
  }

  function showProblem(state, problem) {
    const pointers = (problem.errors || []).map((fault) => fault.pointer).filter(Boolean);
    if (pointers.length) return showFaults(state, pointers.map((pointer) => pointer.split("/")[1]));
    const { texts, section } = state;
    section.querySelector("[role=alert]").textContent = texts.problems[problem.status] || texts.problem;
  }

  // The answer

  function show(state, range, narrowing) {
    const { section, form, texts } = state;
    const money = new Intl.NumberFormat(locale, { style: "currency", currency: range.currency, maximumFractionDigits: 0 });
    const said = Object.fromEntries(["low", "likely", "high"].map((name) => [name, money.format(range[name])]));
    for (const [name, figure] of Object.entries(said)) section.querySelector(`[data-figure=${name}]`).textContent = figure;
    section.querySelector("[data-text=tax]").textContent = range.tax_included ? texts.with_tax : texts.without_tax;
    section.querySelector(".picture").replaceChildren(picture(range, state.before, said, texts));
    list(section, "includes", range.includes, texts);
    list(section, "cautions", range.cautions, texts);
    section.querySelector("#ballpark-token").value = range.token;
    section.querySelector(".answer").hidden = false;
    form.classList.add("answered");
    const next = askNext(state, range.ask_next);
    state.before = range;
    section.querySelector("[role=status]").textContent = [filled(texts.said, said), next].filter(Boolean).join(" ");
    if (narrowing && next) section.querySelector(".slot :is(input:checked, select, input)").focus({ preventScroll: true });
    section.querySelector(".answer").scrollIntoView({ block: "nearest" });
    const { low, likely, high, currency, token } = range;
    state.told.dispatchEvent(new CustomEvent("ballpark", { bubbles: true, detail: { low, likely, high, currency, token } }));
  }

  function filled(pattern, values) {
    return pattern.replace(/\{(\w+)\}/g, (_, name) => values[name]);
  }

  function list(section, name, items, texts) {
    const place = section.querySelector(`[data-list=${name}]`);
    const words = items.map(({ code, text }) => texts[name][code] || text);
    place.replaceChildren(...words.map((words) => Object.assign(document.createElement("li"), { textContent: words })));
    place.parentElement.hidden = !items.length;
  }

  /** Moves the question that narrows most beside the answer, the one before back; gives its words. */
  function askNext(state, name) {
    const { form, section } = state;
    const slot = section.querySelector(".slot");
    const before = slot.firstElementChild;
    const question = [...form.querySelectorAll("[data-question]")].find((one) => one.dataset.question === name);
    if (before && before !== question) state.mark.replaceWith(before);
    if (question && before !== question) {
      state.mark = document.createComment("");
      question.replaceWith(state.mark);
      slot.replaceChildren(question);
    }
    section.querySelector(".next").hidden = !question;
    return question && `${section.querySelector(".why").textContent} ${question.querySelector("legend, .label").textContent}`;
  }

  // The range as a picture

  function picture(range, before, said, texts) {
    const ends = [range, ...(before ? [before] : [])].flatMap(({ low, high }) => [Number(low), Number(high)]);
    const [least, most] = [Math.min(...ends), Math.max(...ends)];
    const margin = 0.15 * (most - least || most || 1);
    const at = (value) => `${((100 * (Number(value) - least + margin)) / (most - least + 2 * margin)).toFixed(2)}%`;
    const part = (from, to) => `${(parseFloat(at(to)) - parseFloat(at(from))).toFixed(2)}%`;
    const svg = drawn("svg", { role: "img", "aria-label": filled(texts.picture, said) });
    if (before) svg.append(drawn("rect", { class: "before", x: at(before.low), width: part(before.low, before.high), y: 18, height: 24 }));
    svg.append(drawn("rect", { class: "range", x: at(range.low), width: part(range.low, range.high), y: 18, height: 24 }));
    svg.append(drawn("line", { class: "axis", x1: "0", x2: "100%", y1: 52, y2: 52 }));
    svg.append(...ticks(least, most, range, at));
    svg.append(drawn("circle", { class: "peak", cx: at(range.likely), cy: 30, r: 8 }));
    return svg;
  }

  function ticks(least, most, range, at) {
    const short = new Intl.NumberFormat(locale, { style: "currency", currency: range.currency, currencyDisplay: "narrowSymbol", maximumFractionDigits: 0 });
    const rough = (most - least) / 2 || 1;
    const power = 10 ** Math.floor(Math.log10(rough));
    const step = [5, 2, 1].map((times) => times * power).find((size) => size <= rough);
    const values = Array.from({ length: Math.floor(most / step) - Math.ceil(least / step) + 1 }, (_, k) => (Math.ceil(least / step) + k) * step);
    return values.flatMap((value, k) => [
      drawn("line", { class: "joint", x1: at(value), x2: at(value), y1: 18, y2: 42 }),
      drawn("line", { class: "axis", x1: at(value), x2: at(value), y1: 48, y2: 56 }),
      // a narrow picture leaves out every other figure where there are many
      drawn("text", { class: values.length > 3 && k % 2 ? "between" : "even", x: at(value), y: 74, "text-anchor": "middle" }, short.format(value)),
    ]);
  }

  function drawn(name, attributes, content = "") {
    const element = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
    element.textContent = content;
    return element;
  }

  const here = document.querySelector("body.ballpark-page .ballpark");
  if (here) start(here, here);
  else embed().catch((fault) => console.error("ballpark:", fault));
})();
