// Finds while one types, through the API.
"use strict";
(() => {
  const form = document.querySelector("form.find");
  const results = document.getElementById("results");
  if (!form || !results) return;
  const before = results.innerHTML;
  const beganEmpty = !["q", "head", "thread"].some((name) => form.elements[name].value.trim());
  let waiting = 0;
  let asked = 0;
  let running = null;

  const element = (name, text, kind) => {
    const made = document.createElement(name);
    if (text) made.textContent = text;
    if (kind) made.className = kind;
    return made;
  };

  // An id may break after its dots.
  const brokenId = (id) => {
    const made = element("span", "", "id");
    id.split(".").forEach((part, i, all) => {
      made.append(part + (i + 1 < all.length ? "." : ""));
      if (i + 1 < all.length) made.append(element("wbr"));
    });
    return made;
  };

  // The head as it looks, from the symbols of the page.
  const picture = (record) => {
    const space = "http://www.w3.org/2000/svg";
    const svg = document.createElementNS(space, "svg");
    const attributes = { class: "head", width: 40, height: 40, "aria-hidden": "true", fill: "none", "stroke-width": 2, "stroke-linejoin": "round" };
    for (const [name, value] of Object.entries(attributes)) svg.setAttribute(name, value);
    const drive = record.head && record.drive && document.getElementById("drive-" + record.drive.type);
    for (const symbol of [document.getElementById("head-" + (record.head || "unknown")), drive]) {
      if (!symbol) continue;
      const use = document.createElementNS(space, "use");
      use.setAttribute("href", "#" + symbol.id);
      svg.append(use);
    }
    return svg;
  };

  const row = (record) => {
    const isJoint = record.kind === "joint";
    const link = element("a", "", "row");
    link.href = "/bench/joints/" + (isJoint ? record.id : record.joint);
    const words = element("span");
    const stages = () => record.stages.map((stage) => stage.replaceAll(" ", "\u00a0")).join("\u00a0→ ");
    const under = isJoint ? record.assembly_title : `${record.thread}\u00a0·\u00a0${stages()}`;
    words.append(element("b", (isJoint ? record.title : record.name) || record.id.split(".").pop()));
    if (under) words.append(element("br"), element("span", under, "under"));
    words.append(element("br"), brokenId(record.id));
    if (!isJoint) link.append(picture(record));
    link.append(words);
    const item = element("li");
    item.append(link);
    return item;
  };

  const show = (joints, fasteners, address) => {
    const list = element("ul", "", "rows");
    list.append(...joints.items.map(row), ...fasteners.items.map(row));
    const total = (joints.page.count || 0) + (fasteners.page.count || 0);
    const said = total === 0 ? "Nothing found. Fewer words, or another spelling?" : total === 1 ? "1 record" : `${total} records`;
    const count = element("p", said, "count");
    count.setAttribute("role", "status");
    const parts = [count, list];
    if (total > list.children.length) {
      const all = element("a", "All of them", "button");
      all.href = address;
      const line = element("p");
      line.append(all);
      parts.push(line);
    }
    results.replaceChildren(...parts);
  };

  const faults = (problem) => {
    const said = (problem.errors || [{ detail: problem.title }]).map((fault) => [fault.detail, fault.hint].filter(Boolean).join(". "));
    results.replaceChildren(...said.map((text) => {
      const line = element("p", text, "fault");
      line.setAttribute("role", "alert");
      return line;
    }));
  };

  const nothing = { items: [], page: { count: 0 } };
  const find = async () => {
    const number = ++asked;
    // What was asked before is not waited for any more, here or there.
    running?.abort();
    running = new AbortController();
    const { signal } = running;
    const question = new URLSearchParams();
    for (const name of ["q", "within", "head", "thread"]) {
      const value = form.elements[name].value.trim();
      if (value) question.set(name, value);
    }
    const address = form.getAttribute("action") + (String(question) ? "?" + question : "");
    if (!["q", "head", "thread"].some((name) => question.has(name))) {
      if (beganEmpty) results.innerHTML = before;
      else location.assign(address);
      return;
    }
    question.set("count", "exact");
    try {
      const ask = async (path, take) => {
        const answer = await fetch(`${path}?${question}&take=${take}`, { headers: { accept: "application/json" }, signal });
        return { ok: answer.ok, body: await answer.json() };
      };
      // A joint has no head and no thread.
      const isOfFasteners = question.has("head") || question.has("thread");
      const joints = isOfFasteners ? { ok: true, body: nothing } : await ask("/v1/joints", 8);
      const fasteners = joints.ok ? await ask("/v1/fasteners", 17) : joints;
      // An answer that is overtaken by a later question is not shown.
      if (number !== asked) return;
      if (joints.ok && fasteners.ok) show(joints.body, fasteners.body, address);
      else faults(fasteners.body);
      history.replaceState(null, "", address);
    } catch {
      // Without a network the button still asks in the ordinary way.
    }
  };

  form.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = setTimeout(find, 150);
  });
})();
