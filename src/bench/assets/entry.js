// Reads and judges an entry while it is typed, through the API, and stores it there when asked to.
"use strict";
(() => {
  const form = document.getElementById("entry");
  if (!form) return;
  const at = (id) => document.getElementById(id);
  const fields = [...form.querySelectorAll("input[name]:not([type=hidden]), select[name], textarea[name]")];
  const revision = form.elements.revision ? form.elements.revision.value : null;
  let waiting = 0;
  let asked = 0;

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

  const element = (name, text, kind) => {
    const made = document.createElement(name);
    if (text) made.textContent = text;
    if (kind) made.className = kind;
    return made;
  };

  const clear = () => {
    for (const field of fields) {
      at("e-" + field.name).textContent = "";
      field.removeAttribute("aria-invalid");
    }
    at("outcome").replaceChildren();
  };

  // Faults at their fields; those without a field below the form. The first part of a pointer numbers the record.
  const showFaults = (errors) => {
    for (const fault of errors) {
      const path = (fault.pointer || "").replace(/^\/0\//, "").split("/");
      const field = fields.find((known) => known.name === path.slice(0, 2).join(".") || known.name === path[0]);
      const text = [fault.detail, fault.hint].filter(Boolean).join(". ");
      if (field) {
        at("e-" + field.name).textContent = text;
        field.setAttribute("aria-invalid", "true");
        field.setAttribute("aria-describedby", "e-" + field.name);
      } else at("outcome").append(element("p", text, "fault"));
    }
  };

  const showFindings = (items) => {
    const list = items.filter((finding) => !finding.accepted).map((finding) => {
      const item = element("li", "", finding.severity);
      const said = element("p");
      said.append(element("b", finding.severity, "severity"), " " + finding.message);
      item.append(said);
      for (const perhaps of finding.perhaps || []) {
        const meant = element("p", "Perhaps ");
        meant.append(element("b", perhaps.value, "large"), ` was meant (${Math.round(perhaps.probability * 100)} %)`);
        item.append(meant);
      }
      return item;
    });
    at("findings").replaceChildren(...list);
    at("findings").hidden = list.length === 0;
    return list.length;
  };

  const showRange = async (number) => {
    const answer = await fetch("/bench/entry/range", { method: "POST", body: new URLSearchParams(new FormData(form)) });
    if (number === asked && answer.ok) at("range").innerHTML = await answer.text();
  };

  const check = async () => {
    const number = ++asked;
    try {
      const answer = await fetch("/v1/audits", {
        method: "POST",
        headers: { "content-type": "application/json" },
        body: JSON.stringify([record()]),
      });
      const body = await answer.json();
      if (number !== asked) return;
      clear();
      at("store").hidden = !answer.ok;
      if (answer.ok) {
        const count = showFindings(body.items);
        at("verdict").textContent = count ? `${count} ${count === 1 ? "finding" : "findings"}` : "No finding";
        await showRange(number);
      } else {
        showFindings([]);
        at("range").replaceChildren();
        showFaults(body.errors || []);
        at("verdict").textContent = "Cannot be stored like this";
      }
    } catch {
      at("verdict").textContent = "No connection: press Check to try again";
    }
  };

  const store = async () => {
    const entered = record();
    const headers = { "content-type": "application/json" };
    if (revision) headers["if-match"] = `"r${revision}"`;
    else headers["if-none-match"] = "*";
    const answer = await fetch("/v1/fasteners/" + encodeURIComponent(entered.id), {
      method: "PUT", headers, body: JSON.stringify(entered),
    });
    if (answer.ok) location.assign("/bench/fasteners/" + encodeURIComponent(entered.id));
    else {
      const body = await answer.json();
      at("verdict").textContent = [body.title, body.detail].filter(Boolean).join(": ");
      showFaults(body.errors || []);
    }
  };

  form.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = setTimeout(check, 250);
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    check();
  });
  at("store").addEventListener("click", () => {
    store().catch(() => { at("verdict").textContent = "No connection: nothing was stored"; });
  });
})();
