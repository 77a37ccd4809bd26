// Reads and judges an entry while it is typed, through the API, and stores it there when asked to.
"use strict";
(() => {
  const form = document.getElementById("entry");
  if (!form) return;
  const at = (id) => document.getElementById(id);
  const noteOf = (field) => at("e-" + field.name.replace(".", "-"));
  const fields = [...form.querySelectorAll("input[name]:not([type=hidden], [type=password]), select[name], textarea[name]")];
  const revision = form.elements.revision ? form.elements.revision.value : null;
  let waiting = 0;
  let asked = 0;
  let beside = { joint: null, records: [] };

  // The same as the service does without script: names are paths, stages stand one a line.
  const record = () => {
    const members = JSON.parse(form.elements.kept.value || "{}");
    members.kind = "fastener";
    for (const field of fields) {
      const text = field.value.trim();
      if (!text) continue;
      let value = text;
      if (field.dataset.kind === "lines") value = text.split("\n").map((line) => line.trim()).filter(Boolean);
      if (field.dataset.kind === "whole" && /^[0-9]+$/.test(text)) value = Number(text);
      const [outer, inner] = field.name.split(".");
      if (inner) (members[outer] ??= {})[inner] = value;
      else members[outer] = value;
    }
    return members;
  };

  const ask = (method, path, body, headers = {}) => {
    const token = at("token").value.trim();
    if (token) headers.authorization = `Bearer ${token}`;
    if (body) headers["content-type"] = "application/json";
    return fetch(path, { method, headers, body: body && JSON.stringify(body) });
  };

  // A service that wants a token is told one here; it stays on this page.
  const wantsToken = (answer) => {
    if (answer.status !== 401 && answer.status !== 403) return false;
    at("token-box").hidden = false;
    return true;
  };

  const element = (name, text, kind) => {
    const made = document.createElement(name);
    if (text) made.textContent = text;
    if (kind) made.className = kind;
    return made;
  };

  const clear = () => {
    for (const field of fields) {
      noteOf(field).textContent = "";
      field.removeAttribute("aria-invalid");
    }
    at("outcome").replaceChildren();
  };

  // Faults at their fields; those without a field above the form.
  const showFaults = (errors) => {
    for (const fault of errors) {
      const path = (fault.pointer || "").replace(/^\//, "").split("/");
      const field = fields.find((known) => known.name === path.slice(0, 2).join(".") || known.name === path[0]);
      const text = [fault.detail, fault.hint].filter(Boolean).join(". ");
      if (field) {
        const said = noteOf(field);
        said.textContent = said.textContent ? `${said.textContent}. ${text}` : text;
        field.setAttribute("aria-invalid", "true");
        field.setAttribute("aria-describedby", said.id);
      } else at("outcome").append(element("p", text, "fault"));
    }
  };

  // The words of the page without script: nothing is certain.
  const chance = (share) => (share >= 0.99 ? "over 99 %" : share < 0.01 ? "under 1 %" : `${Math.round(share * 100)} %`);

  const findingOf = (finding) => {
    const item = element("li", "", finding.severity);
    const line = element("div", "", "finding");
    const said = element("p");
    said.append(element("b", finding.severity, "severity"), " " + finding.message);
    const why = element("a", "Why?", "why");
    why.href = "/bench/rules/" + finding.rule;
    why.append(element("span", " " + finding.rule, "unseen"));
    line.append(said, why);
    item.append(line);
    return item;
  };

  // What was probably meant stands once, however many rules say so.
  const meant = (items) => {
    const known = new Map();
    for (const perhaps of items.flatMap((finding) => finding.perhaps || [])) {
      if (!(known.get(perhaps.value) >= perhaps.probability)) known.set(perhaps.value, perhaps.probability);
    }
    if (!known.size) return [];
    const item = element("li", "", "meant");
    const list = element("ul");
    for (const [value, share] of [...known].sort((a, b) => b[1] - a[1])) {
      const one = element("li");
      one.append(element("b", value), " ", element("span", chance(share), "under"));
      list.append(one);
    }
    item.append(element("p", "Perhaps meant:"), list);
    return [item];
  };

  const worst = ["error", "warning", "note"];
  const showFindings = (items) => {
    items.sort((a, b) => worst.indexOf(a.severity) - worst.indexOf(b.severity));
    at("findings").replaceChildren(...meant(items), ...items.map(findingOf));
    const count = (severity) => items.filter((finding) => finding.severity === severity).length;
    const parts = worst.filter(count).map((word) => `${count(word)} ${word}${count(word) === 1 ? "" : "s"}`);
    at("verdict").textContent = parts.length ? parts.join(", ") : "No finding";
  };

  const showRange = async (entered, number) => {
    const answer = await ask("POST", "/v1/ranges", entered);
    const picture = answer.ok ? await answer.text() : "";
    if (number !== asked) return;
    at("range").innerHTML = picture;
    const words = at("range").querySelector("desc");
    at("range-words").textContent = words ? words.textContent : "";
  };

  // The joint and its other fasteners: what an entry is judged beside.
  const neighbours = async (joint) => {
    if (beside.joint === joint) return beside.records;
    const records = [];
    for (const path of [`/v1/joints/${encodeURIComponent(joint)}`, `/v1/fasteners?within=${encodeURIComponent(joint)}&take=100`]) {
      const answer = await ask("GET", path);
      if (!answer.ok) continue;
      const body = await answer.json();
      records.push(...(body.items || [body]));
    }
    beside = { joint, records };
    return records;
  };

  const check = async () => {
    const number = ++asked;
    try {
      const entered = record();
      const isPath = /^[a-z0-9-]+(\.[a-z0-9-]+)+$/.test(entered.joint || "");
      const others = isPath ? (await neighbours(entered.joint)).filter((other) => other.id !== entered.id) : [];
      const answer = await ask("POST", "/v1/audits", [entered, ...others]);
      const body = await answer.json();
      if (number !== asked) return;
      clear();
      at("store").hidden = !answer.ok;
      if (answer.ok) {
        showFindings(body.items.filter((finding) => finding.record === entered.id && !finding.accepted));
        await showRange(entered, number);
        return;
      }
      at("findings").replaceChildren();
      at("range").replaceChildren();
      at("range-words").textContent = "";
      if (wantsToken(answer)) {
        at("verdict").textContent = "This book asks for a token";
        return;
      }
      const own = (body.errors || []).filter((fault) => /^\/0(\/|$)/.test(fault.pointer || ""));
      showFaults(own.map((fault) => ({ ...fault, pointer: fault.pointer.replace(/^\/0/, "") })));
      at("verdict").textContent = "Cannot be stored like this";
    } catch {
      at("verdict").textContent = "No connection: press Check to try again";
    }
  };

  const store = async () => {
    const entered = record();
    const headers = revision ? { "if-match": `"r${revision}"` } : { "if-none-match": "*" };
    const answer = await ask("PUT", "/v1/fasteners/" + encodeURIComponent(entered.id), entered, headers);
    if (answer.ok) {
      location.assign("/bench/fasteners/" + encodeURIComponent(entered.id));
      return;
    }
    const body = await answer.json();
    wantsToken(answer);
    at("verdict").textContent = ["Nothing was stored", body.title, body.detail].filter(Boolean).join(": ");
    showFaults(body.errors || []);
  };

  form.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = setTimeout(check, 250);
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (event.submitter !== at("store")) check();
    else store().catch(() => { at("verdict").textContent = "No connection: nothing was stored"; });
  });
  // Without script both stand there from the start; with it a token is asked for when one is wanted, and what is not
  // judged yet is not stored.
  at("token-box").hidden = true;
  at("store").hidden = true;
  if (revision) check();
})();
