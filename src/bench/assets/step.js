// Steps without asking the server again: everything but the drawing of a later pass came with the page.
"use strict";
(() => {
  const source = document.getElementById("steps");
  const shown = document.getElementById("step");
  if (!source || !shown) return;
  const { steps, kinds, passes, base, question } = JSON.parse(source.textContent);
  const at = (id) => document.getElementById(id);
  const drawings = new Map([[steps[Number(shown.dataset.n) - 1].pass, at("drawing").innerHTML]]);
  let n = Number(shown.dataset.n);
  let asks = shown.classList.contains("asks");
  let drawn = steps[n - 1].pass;

  const seen = question ? question + "&seen=1" : "?seen=1";
  const address = () => `${base}/steps/${n}${asks || !steps[n - 1].ask ? question : seen}`;
  const place = (step) => (step.position === null ? "Position not stated" : `Position ${step.position}`);

  const drawing = async (pass) => {
    if (drawings.has(pass)) return;
    drawings.set(pass, null);
    try {
      const answer = await fetch(`${base}/drawing/${pass}${question}`);
      if (answer.ok) drawings.set(pass, await answer.text());
      else drawings.delete(pass);
    } catch {
      drawings.delete(pass);
    }
  };

  const marks = () => {
    const step = steps[n - 1];
    if (drawn !== step.pass && drawings.get(step.pass)) {
      at("drawing").innerHTML = drawings.get(step.pass);
      drawn = step.pass;
    }
    const done = new Set(steps.slice(0, n - 1).filter((s) => s.pass === step.pass).map((s) => s.position));
    const show = (element, yes) => {
      if (!element) return;
      if (yes) element.removeAttribute("display");
      else element.setAttribute("display", "none");
    };
    for (const head of at("drawing").querySelectorAll("[data-n]")) {
      const position = Number(head.dataset.n);
      show(head.querySelector(".now"), position === step.position);
      show(head.querySelector(".done"), position !== step.position && done.has(position));
    }
  };

  const values = (step) => step.actions.map(([words, aside]) => {
    const line = document.createElement("p");
    const value = document.createElement("b");
    value.textContent = words;
    line.append(value);
    if (aside) {
      const small = document.createElement("small");
      small.textContent = aside;
      line.append(" ", small);
    }
    return line;
  });

  const render = () => {
    const step = steps[n - 1];
    const kind = kinds[step.letter];
    shown.dataset.n = n;
    shown.classList.toggle("asks", asks);
    at("pass").textContent = `Pass ${step.pass} of ${passes}`;
    at("position").textContent = place(step);
    at("count").textContent = `${n} of ${steps.length}`;
    at("begins").hidden = !step.begins;
    at("value").replaceChildren(...values(step));
    at("picture").innerHTML = kind.picture;
    at("head").textContent = kind.head;
    at("under").textContent = kind.under;
    at("next").textContent = asks ? "Yes, show the value" : "Done, next";
    at("undo").href = n > 1 ? `${base}/steps/${n - 1}${seen}` : `${base}/start${question}`;
    at("next").href = asks ? `${base}/steps/${n}${seen}` : `${base}/steps/${n + 1}${question}`;
    const what = asks ? `Check the head: ${kind.head}` : step.actions.map(([words]) => words).join(", then ");
    at("said").textContent = `Pass ${step.pass}, ${place(step)}: ${what}. ${n} of ${steps.length}.`;
    document.title = `Pass ${step.pass}, ${place(step)}`;
    history.replaceState(null, "", address());
    marks();
    for (const later of steps.slice(n, n + 40)) drawing(later.pass).then(marks);
  };

  // True if the script has done it; false leaves it to the link.
  const next = () => {
    if (asks) asks = false;
    else if (n < steps.length) {
      n += 1;
      asks = steps[n - 1].ask;
    } else return false;
    render();
    return true;
  };

  const undo = () => {
    if (n === 1) return false;
    // The step that is taken back was seen: its value is shown again.
    n -= 1;
    asks = false;
    render();
    return true;
  };

  const plain = (event) => !event.ctrlKey && !event.metaKey && !event.shiftKey && !event.altKey;
  at("next").addEventListener("click", (event) => { if (plain(event) && next()) event.preventDefault(); });
  at("undo").addEventListener("click", (event) => { if (plain(event) && undo()) event.preventDefault(); });
  const keys = new Map([[" ", "next"], ["Enter", "next"], ["PageDown", "next"], ["Backspace", "undo"], ["PageUp", "undo"]]);
  document.addEventListener("keydown", (event) => {
    const key = keys.get(event.key);
    if (!key || event.repeat || !plain(event)) return;
    const on = event.target.closest("a, button, input, select, textarea, summary");
    if (on && on.id !== "next" && on.id !== "undo" && key === "next") return;
    if (on && /^(INPUT|SELECT|TEXTAREA)$/.test(on.tagName)) return;
    event.preventDefault();
    // A link that has the focus keeps its own meaning.
    at(on && on.id === "undo" && event.key !== "PageDown" ? "undo" : key).click();
  });
  render();
})();
